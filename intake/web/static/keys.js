// Keys that follow a link, press a button or go to a field. They rest while a person types.
import { onLeaf } from "./leaf.js";

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

// What a word means goes with Escape, and comes again when it is pointed at or focused anew.
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") for (const word of document.querySelectorAll(".explained:hover, .explained:focus-within")) word.classList.add("shut");
});
for (const name of ["mouseleave", "focusout"]) {
  document.addEventListener(name, ({ target }) => { if (target instanceof Element) target.closest(".explained")?.classList.remove("shut"); }, true);
}

// Light desk, dim room, or as the machine is; the browser remembers.
const WAYS = { "": "Light: as the machine", light: "Light: bright", dim: "Light: dim room" };
const root = document.documentElement;
onLeaf(() => {
  const light = document.getElementById("light");
  if (!light) return;
  const say = () => { light.textContent = WAYS[root.dataset.light ?? ""]; };
  light.hidden = false;
  say();
  light.addEventListener("click", () => {
    const ways = Object.keys(WAYS);
    const next = ways[(ways.indexOf(root.dataset.light ?? "") + 1) % ways.length];
    if (next) root.dataset.light = next;
    else delete root.dataset.light;
    document.cookie = `kinfold_light=${next}; path=/; max-age=31536000; samesite=strict`;
    say();
  });
});
