// What the page after this one shows first is asked for while this one is looked at.
import { firstTiles } from "./tiles.js";

export const fetchAhead = async (pane, signal) => {
  const next = document.querySelector("a[data-next]")?.href;
  if (!next) return;
  const answer = await fetch(next, { signal });
  if (!answer.ok) return;
  const there = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("table");
  for (const view of there?.querySelectorAll(".view") ?? []) {
    const { tiles, width, height } = view.dataset;
    for (const address of firstTiles(tiles, Number(width), Number(height), Number(there.dataset.tile), pane)) new Image().src = address;
  }
};
