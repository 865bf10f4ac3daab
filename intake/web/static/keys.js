// Keys that follow a link, press a button or go to a field. They rest while a person types.
const typing = (target) => target.closest("input:not([type=range]):not([type=checkbox]), textarea, select");

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || typing(event.target)) return;
  const key = event.key.toLowerCase();
  const digit = event.code.match(/^Digit([1-9])$/);
  let goal = null;
  if (key === "?") goal = document.querySelector('a[href="/keys"]');
  else if (digit) goal = document.querySelector(`[data-${event.shiftKey ? "left" : "right"}="${digit[1]}"]`);
  else goal = [...document.querySelectorAll("[data-key]")].find((element) => element.dataset.key === key);
  if (goal) {
    event.preventDefault();
    goal.click();
    return;
  }
  const field = document.querySelector(`[data-focus="${CSS.escape(key)}"]`);
  if (field) {
    event.preventDefault();
    field.closest("details")?.setAttribute("open", "");
    field.focus();
  }
});

// Sections that open: those that a person left open are open on the next page, and so is one that the address names.
const folds = [...document.querySelectorAll("details[data-fold]")];
const KEPT = "kinfold_open";
const named = () => document.getElementById(location.hash.slice(1))?.closest("details[data-fold]");
const kept = new Set((localStorage.getItem(KEPT) ?? "").split(" ").filter(Boolean));
for (const fold of folds) {
  fold.open = kept.has(fold.dataset.fold);
  fold.querySelector("summary").addEventListener("click", () => {
    kept[fold.open ? "delete" : "add"](fold.dataset.fold);
    localStorage.setItem(KEPT, [...kept].join(" "));
  });
}
const reveal = () => { const fold = named(); if (fold) { fold.open = true; document.getElementById(location.hash.slice(1)).scrollIntoView(); } };
window.addEventListener("hashchange", reveal);
reveal();
