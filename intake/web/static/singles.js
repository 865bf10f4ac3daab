// Pieces in no family: how many are ticked, all or none at once, a run of ticks with Shift.
const form = document.getElementById("singles");
const ticks = [...document.querySelectorAll('input[name="picked"]')];
const said = document.getElementById("ticked");
const all = document.getElementById("all");
let last = -1;

const say = () => {
  const many = ticks.filter((tick) => tick.checked).length;
  if (said) said.textContent = many ? `${many} ticked` : "none ticked";
  if (all) all.firstChild.textContent = many === ticks.length ? "Tick none " : "Tick all ";
};

ticks.forEach((tick, n) => tick.addEventListener("click", (event) => {
  if (event.shiftKey && last >= 0) {
    for (let at = Math.min(last, n); at <= Math.max(last, n); at++) ticks[at].checked = tick.checked;
  }
  last = n;
  say();
}));
all?.addEventListener("click", () => {
  const on = !ticks.every((tick) => tick.checked);
  for (const tick of ticks) tick.checked = on;
  say();
});
form?.addEventListener("keydown", (event) => {
  const verb = event.target.dataset?.press;
  if (event.key === "Escape") event.target.blur();
  if (event.key !== "Enter" || !verb) return;
  event.preventDefault();
  form.querySelector(`button[value="${verb}"]`)?.click();
});
say();
