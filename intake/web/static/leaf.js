// One leaf after another in one document: the answer to a ruling or a link is laid where the page stood, so that styles, scripts
// and viewer are not read anew. What a leaf begins ends with it.
const begins = [];
let leaf = new AbortController();
let ahead = new AbortController();
let asking = false;

// Call `begin` for the leaf that lies there and for each that follows, with two signals. Listeners that it adds end with the
// first; with the second, what it fetches ahead: as soon as a person asks for something, for a ruling may leave no such family.
export const onLeaf = (begin) => {
  begins.push(begin);
  begin(leaf.signal, ahead.signal);
};

const tell = (words) => {
  const said = Object.assign(document.createElement("p"), { className: "taken", textContent: words });
  said.setAttribute("role", "alert");
  document.getElementById("main").prepend(said);
  said.scrollIntoView({ block: "nearest" });
};

const lay = (next, title, address) => {
  const from = location.pathname;
  leaf.abort();
  if (address) {
    history.replaceState({ leaf: true }, "");
    history.pushState({ leaf: true }, "", address);
  }
  document.getElementById("page").replaceWith(next);
  document.title = title;
  leaf = new AbortController();
  ahead = new AbortController();
  for (const begin of begins) begin(leaf.signal, ahead.signal);
  const done = document.querySelector(".done p");
  document.getElementById("spoken").textContent = done?.textContent ?? "";
  // Of the same family laid otherwise a person goes on where they were; of another one, or after a ruling, at its head.
  const table = document.getElementById("table");
  const stays = from === location.pathname && !done && table;
  const goal = stays ? table : document.querySelector("#main h1");
  if (!stays) goal?.setAttribute("tabindex", "-1");
  goal?.focus({ preventScroll: true });
  if (!stays) window.scrollTo(0, 0);
};

const ask = async (address, given) => {
  if (asking) return;
  asking = true;
  ahead.abort();
  try {
    const answer = await fetch(address, given);
    const text = await answer.text();
    const there = new DOMParser().parseFromString(text, "text/html");
    const next = there.getElementById("page");
    // The answer to a form that was refused has no address of its own.
    const own = !given || answer.redirected ? answer.url : "";
    if (next?.dataset.made === document.getElementById("page").dataset.made) {
      for (const held of next.querySelectorAll("noscript")) held.remove();
      lay(next, there.title, own);
    } else if (own) location.assign(own); // a door, or a newer desk
    else tell(`${text.slice(0, 300) || "The desk refused this."} Nothing was written.`);
  } catch {
    tell("The desk does not answer. Whether this was written is not sure: once it answers, look at the page anew.");
  } finally {
    asking = false;
  }
};

document.addEventListener("click", (event) => {
  const link = event.target.closest("a[href]");
  if (!link?.closest("[data-leaf]") || "whole" in link.dataset || event.defaultPrevented) return;
  if (event.button || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey) return;
  event.preventDefault();
  ask(link.href);
});
document.addEventListener("submit", (event) => {
  const { target: form, submitter } = event;
  if (!form.closest("[data-leaf]") || form.method !== "post") return;
  event.preventDefault();
  ask(form.action, { method: "POST", body: new URLSearchParams(new FormData(form, submitter)) });
});
// Back and forth: the page is asked for anew, so that what it shows is what stands now.
window.addEventListener("popstate", ({ state }) => { if (state?.leaf) location.reload(); });
