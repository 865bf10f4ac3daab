// How places of one picture lie on another: a homography of shares, row by row.
export const numbers = (text) => (text ? text.split(",").map(Number) : null);

export const through = (m, x, y) => {
  const w = m[6] * x + m[7] * y + m[8];
  return [(m[0] * x + m[1] * y + m[2]) / w, (m[3] * x + m[4] * y + m[5]) / w];
};

export const back = (m) => {
  const [a, b, c, d, e, f, g, h, i] = m;
  return [e * i - f * h, c * h - b * i, b * f - c * e, f * g - d * i, a * i - c * g, c * d - a * f, d * h - e * g, b * g - a * h, a * e - b * d];
};

// How lengths change on the way through, at a place; `tall` is the height of the second picture over that of the first, as
// both are one wide.
export const spread = (m, x, y, tall) => {
  const step = 1e-3;
  const [x0, y0] = through(m, x, y);
  const [x1, y1] = through(m, x + step, y);
  const [x2, y2] = through(m, x, y + step);
  return Math.sqrt(Math.abs(((x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)) * tall)) / step;
};
