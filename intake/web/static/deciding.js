// The line of rulings: ticks on pieces, Enter in a field presses the button beside it, and the family is shown as taken.
const form = document.getElementById("rulings");
const ticks = [...document.querySelectorAll('input[name="out"]')];
const chosen = document.getElementById("chosen");

if (form) {
  const first = chosen?.innerHTML;
  const say = () => {
    const ticked = ticks.filter((tick) => tick.checked);
    if (chosen && ticked.length) chosen.textContent = `ticked: ${ticked.map((tick) => tick.dataset.place).join(", ")}`;
    else if (chosen) chosen.innerHTML = first;
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
    const right = document.querySelector("li.on-right input[name=out]");
    if (event.key.toLowerCase() === "y" && right) {
      right.click();
      event.preventDefault();
    }
  });
}

// Whoever looks at a family has it before them; the others see that in the queue. A page fetched ahead does not count.
const table = document.querySelector("[data-take]");
if (table && !document.prerendering) {
  fetch("/taken", { method: "POST", body: new URLSearchParams({ family: table.dataset.take }) }).catch(() => undefined);
}
