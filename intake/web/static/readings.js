// The readings that wait, by keys: comma and full stop go through the groups; the rest is done to the one that is marked.
const groups = [...document.querySelectorAll("[data-group]")];
let now = -1;

const mark = (to, scroll = true) => {
  groups[now]?.classList.remove("now");
  now = Math.min(groups.length - 1, Math.max(0, to));
  groups[now].classList.add("now");
  if (!scroll) return;
  groups[now].focus({ preventScroll: true });
  groups[now].scrollIntoView({ block: "nearest" });
};

const press = (name) => groups[now].querySelector(`button[value="${name}"]`)?.click();

const keys = {
  ".": () => mark(now + 1),
  ",": () => mark(now - 1),
  a: () => press("accept_reading"),
  r: () => press("reject_reading"),
  c: () => groups[now].querySelector('input[name="text"]')?.select(),
  x: () => {
    const boxes = [...groups[now].querySelectorAll('input[name="reading"]')];
    const all = boxes.every((box) => box.checked);
    for (const box of boxes) box.checked = !all;
  },
};

if (groups.length) {
  mark(0, false);
  for (const group of groups) group.addEventListener("focusin", () => mark(groups.indexOf(group), false));
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.target.closest("input:not([type=checkbox]), textarea, select")) {
      if (event.key === "Escape") groups[now].focus();
      return;
    }
    const digit = event.code.match(/^Digit([1-9])$/);
    if (digit && !event.shiftKey) groups[now].querySelectorAll('input[name="reading"]')[digit[1] - 1]?.click();
    else if (keys[event.key.toLowerCase()]) keys[event.key.toLowerCase()]();
    else return;
    event.preventDefault();
  });
}
