// Sections that open: one that a person left open is open on the next page too, and so is one that the address names. What is
// in them comes as a template, which costs nothing to lay out, and is put in once the pictures are there and nothing else is to
// do: from then on a search in the page finds it and opens its section.
import { onLeaf } from "./leaf.js";

const KEPT = "kinfold_open";
const WAITS_MS = 1500;
const kept = new Set((localStorage.getItem(KEPT) ?? "").split(" ").filter(Boolean));

const fill = (fold) => {
  const held = fold.querySelector(":scope > template");
  held?.replaceWith(held.content);
};

const reveal = () => {
  const name = location.hash.match(/^#h-([a-z]+)$/)?.[1];
  const fold = name && document.querySelector(`details[data-fold="${name}"]`);
  if (!fold) return;
  fill(fold);
  fold.open = true;
  fold.scrollIntoView();
};

onLeaf((signal) => {
  const folds = [...document.querySelectorAll("details:has(> template)")];
  for (const fold of folds) {
    const { fold: name } = fold.dataset;
    if (kept.has(name)) {
      fill(fold);
      fold.open = true;
    }
    fold.querySelector("summary").addEventListener("click", () => fill(fold));
    if (name) fold.addEventListener("toggle", () => {
      kept[fold.open ? "add" : "delete"](name);
      localStorage.setItem(KEPT, [...kept].join(" "));
    });
  }
  const later = setTimeout(() => {
    const next = () => {
      const fold = !signal.aborted && folds.shift();
      if (!fold) return;
      fill(fold);
      requestIdleCallback(next);
    };
    requestIdleCallback(next);
  }, WAITS_MS);
  signal.addEventListener("abort", () => clearTimeout(later));
  reveal();
});
window.addEventListener("hashchange", reveal);
