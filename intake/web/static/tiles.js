// Tiles of a picture for the viewer, after the IIIF Image API 3: halved from layer to layer until one tile holds it all.
export const layersOf = (width, height, tile) => Math.ceil(Math.log2(Math.max(1, Math.max(width, height) / tile)));

export const tileAddress = (base, width, height, tile, factor, x, y, round = "") => {
  const left = x * tile * factor;
  const top = y * tile * factor;
  const wide = Math.min(tile * factor, width - left);
  const high = Math.min(tile * factor, height - top);
  const size = `${Math.ceil(wide / factor)},${Math.ceil(high / factor)}`;
  return `${base}/${left},${top},${wide},${high}/${size}/0/default.jpg${round}`;
};

// `round` makes other addresses of the same tiles, once sharper ones can be had.
export const tileSource = (base, width, height, tile, round = "") => {
  const most = Math.ceil(Math.log2(Math.max(width, height)));
  return {
    width, height, tileSize: tile, tileOverlap: 0, minLevel: most - layersOf(width, height, tile), maxLevel: most,
    getTileUrl: (level, x, y) => tileAddress(base, width, height, tile, 2 ** (most - level), x, y, round),
  };
};

// The tiles that a pane of this size asks for first, so that they can be had before it is opened.
export const firstTiles = (base, width, height, tile, pane) => {
  const shown = Math.min(pane.width / width, pane.height / height);
  const layers = layersOf(width, height, tile);
  const finest = Math.min(layers, Math.max(0, Math.ceil(Math.log2(0.5 / Math.max(shown, 1e-6)))));
  const made = [];
  for (let layer = layers; layer >= finest; layer -= 1) {
    const step = tile * 2 ** layer;
    for (let y = 0; y * step < height; y += 1) {
      for (let x = 0; x * step < width; x += 1) made.push(tileAddress(base, width, height, tile, 2 ** layer, x, y));
    }
  }
  return made;
};
