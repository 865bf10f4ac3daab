// The line of rulings: ticks on pieces, Enter in a field presses the button beside it, and the family is shown as taken.
import { onLeaf } from "./leaf.js";

const begin = (signal) => {
  const form = document.getElementById("rulings");
  if (!form) return;
  const ticks = [...document.querySelectorAll('input[name="out"]')];
  const chosen = document.getElementById("chosen");
  const other = document.getElementById("other");
  const first = [...chosen.cloneNode(true).childNodes];
  const say = () => {
    const ticked = ticks.filter((tick) => tick.checked);
    if (ticked.length) chosen.textContent = `chosen: ${ticked.map((tick) => tick.dataset.place).join(", ")}`;
    else chosen.replaceChildren(...first);
  };
  for (const tick of ticks) tick.addEventListener("change", say);
  say();

  form.addEventListener("keydown", (event) => {
    const verb = event.target.dataset?.press;
    if (event.key === "Escape") event.target.blur();
    if (event.key !== "Enter" || !event.target.matches("input, select")) return;
    event.preventDefault();
    if (verb) form.querySelector(`button[value="${verb}"]`)?.click();
    else event.target.closest("p, span")?.querySelector("[data-press]")?.focus();
  });

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("input:not([type=range]):not([type=checkbox]), textarea, select")) return;
    const key = event.key.toLowerCase();
    if (key === "j") other.dataset.press = "join";
    if (key === "i") {
      other.dataset.press = "same_campaign";
      other.focus();
      event.preventDefault();
    }
    const right = document.querySelector("li.on-right input[name=out]");
    if (key === "y" && right) {
      right.click();
      event.preventDefault();
    }
  }, { signal });

  // Of many families those whose name holds what is typed are fetched.
  const others = document.getElementById("others");
  const named = others.dataset.all === "yes";
  let asked = 0;
  other.addEventListener("input", async () => {
    const like = other.value.trim();
    if (named || like.length < 2) return;
    const turn = ++asked;
    const answer = await fetch(`/names?${new URLSearchParams({ like })}`).catch(() => null);
    if (!answer?.ok || turn !== asked) return;
    const rows = await answer.json();
    others.replaceChildren(...rows.map(([name, code]) => Object.assign(document.createElement("option"), { value: code, textContent: name })));
  });

  // Whoever looks at a family has it before them; the others see that in the queue. A page made ahead by the
  // browser does not count.
  const family = document.querySelector("[data-take]")?.dataset.take;
  if (family && !document.prerendering) fetch("/taken", { method: "POST", body: new URLSearchParams({ family }) }).catch(() => undefined);
};

onLeaf(begin);
