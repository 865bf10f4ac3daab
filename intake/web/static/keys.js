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

// Sections that open. What is in them stands in the page for a browser without scripts; for one with, it is text until it is
// asked for, as to lay out what nobody opened costs more than all the rest. One that a person left open is open on the next
// page, and so is one that the address names.
const KEPT = "kinfold_open";
const kept = new Set((localStorage.getItem(KEPT) ?? "").split(" ").filter(Boolean));
const open = (fold) => {
  const text = fold.querySelector(":scope > noscript");
  text?.replaceWith(document.createRange().createContextualFragment(text.textContent));
  fold.open = true;
};
for (const fold of document.querySelectorAll("details[data-fold]")) {
  const { fold: name } = fold.dataset;
  if (kept.has(name)) open(fold);
  fold.querySelector("summary").addEventListener("click", (event) => {
    event.preventDefault();
    if (fold.open) fold.open = false;
    else open(fold);
    kept[fold.open ? "add" : "delete"](name);
    localStorage.setItem(KEPT, [...kept].join(" "));
  });
}
const reveal = () => {
  const name = location.hash.match(/^#h-([a-z]+)$/)?.[1];
  const fold = name && document.querySelector(`details[data-fold="${name}"]`);
  if (!fold) return;
  open(fold);
  fold.scrollIntoView();
};
window.addEventListener("hashchange", reveal);
reveal();

// What a word means goes with Escape, and comes again when it is pointed at or focused anew.
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") for (const word of document.querySelectorAll(".explained:hover, .explained:focus-within")) word.classList.add("shut");
});
for (const name of ["mouseleave", "focusout"]) {
  document.addEventListener(name, ({ target }) => { if (target instanceof Element) target.closest(".explained")?.classList.remove("shut"); }, true);
}

// Light desk, dim room, or as the machine is; the browser remembers.
const light = document.getElementById("light");
const WAYS = { "": "Light: as the machine", light: "Light: bright", dim: "Light: dim room" };
const root = document.documentElement;
const sayLight = () => { light.textContent = WAYS[root.dataset.light ?? ""]; };
if (light) {
  light.hidden = false;
  sayLight();
  light.addEventListener("click", () => {
    const ways = Object.keys(WAYS);
    const next = ways[(ways.indexOf(root.dataset.light ?? "") + 1) % ways.length];
    if (next) root.dataset.light = next;
    else delete root.dataset.light;
    document.cookie = `kinfold_light=${next}; path=/; max-age=31536000; samesite=strict`;
    sayLight();
  });
}
