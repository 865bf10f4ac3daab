// Sections that open: one that a person left open is open on the next page too, and so is one that the address names.
import { onLeaf } from "./leaf.js";

const KEPT = "kinfold_open";
const kept = new Set((localStorage.getItem(KEPT) ?? "").split(" ").filter(Boolean));

const reveal = () => {
  const name = location.hash.match(/^#h-([a-z]+)$/)?.[1];
  const fold = name && document.querySelector(`details[data-fold="${name}"]`);
  if (!fold) return;
  fold.open = true;
  fold.scrollIntoView();
};

onLeaf(() => {
  for (const fold of document.querySelectorAll("details[data-fold]")) {
    const { fold: name } = fold.dataset;
    fold.open = kept.has(name);
    fold.addEventListener("toggle", () => {
      kept[fold.open ? "add" : "delete"](name);
      localStorage.setItem(KEPT, [...kept].join(" "));
    });
  }
  reveal();
});
window.addEventListener("hashchange", reveal);
