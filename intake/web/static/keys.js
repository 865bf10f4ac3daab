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
