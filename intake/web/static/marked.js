// What is drawn over the light table: matched points with their lines, and the place that was jumped to, on both pictures.
import { back, through } from "./geometry.js";

const svg = (name, values) => {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(values)) made.setAttribute(key, value);
  return made;
};

// `onTable(pane, x, y)` says where a share of a pane's picture lies, in pixels.
export const pointsOf = (flat, { a, b }, onTable, shares, isSide) => {
  const made = [];
  for (let n = 0; n + 3 < flat.length; n += 4) {
    const here = onTable(a, flat[n], flat[n + 1]);
    const there = isSide ? onTable(b, flat[n + 2], flat[n + 3]) : onTable(a, ...through(back(shares), flat[n + 2], flat[n + 3]));
    made.push(svg("line", { x1: here[0], y1: here[1], x2: there[0], y2: there[1] }));
    for (const [x, y] of [here, there]) made.push(svg("circle", { cx: x, cy: y, r: 4 }));
  }
  return made;
};

export const placeOf = ([left, top, width, height], { a, b }, onTable, shares, isSide) => {
  const [x, y] = onTable(a, left, top);
  const [x1, y1] = onTable(a, left + width, top + height);
  const made = [svg("rect", { x, y, width: x1 - x, height: y1 - y })];
  if (isSide && shares) {
    const corners = [[left, top], [left + width, top], [left + width, top + height], [left, top + height]];
    made.push(svg("polygon", { points: corners.map(([u, v]) => onTable(b, ...through(shares, u, v)).join(" ")).join(" ") }));
  }
  return made;
};
