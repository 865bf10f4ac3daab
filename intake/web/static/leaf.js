// One leaf after another in one document: the answer to a ruling or a link is laid where the page stood (htmx), so that styles,
// scripts and viewer are not read anew. What a leaf begins ends with it.
const begins = [];
let leaf = new AbortController();
let from = location.pathname;

// Call `begin` for the leaf that lies there and for each that follows; listeners that it adds end with the signal it is given.
export const onLeaf = (begin) => {
  begins.push(begin);
  begin(leaf.signal);
};

const tell = (words) => {
  const said = Object.assign(document.createElement("p"), { className: "taken", textContent: words });
  said.setAttribute("role", "alert");
  document.getElementById("main").prepend(said);
  said.scrollIntoView({ block: "nearest" });
};

// What is no page of this very desk (a door, a newer desk, a refusal in plain text) is not laid in.
document.addEventListener("htmx:beforeSwap", (event) => {
  const { detail } = event;
  const made = document.getElementById("page").dataset.made;
  if (detail.serverResponse.includes(`data-made="${made}"`)) {
    // For browsers without scripts; in a text that is laid in they would be pictures to load.
    detail.serverResponse = detail.serverResponse.replace(/<noscript>[^]*?<\/noscript>/g, "");
    from = location.pathname;
    return;
  }
  event.preventDefault();
  if (detail.requestConfig.verb === "get" || detail.pathInfo.responsePath !== detail.pathInfo.requestPath) location.assign(detail.xhr.responseURL);
  else tell(`${detail.xhr.responseText.slice(0, 300) || "The desk refused this."} Nothing was written.`);
});

document.addEventListener("htmx:afterSwap", () => {
  leaf.abort();
  leaf = new AbortController();
  for (const begin of begins) begin(leaf.signal);
  const done = document.querySelector(".done p");
  document.getElementById("spoken").textContent = done?.textContent ?? "";
  // Of the same family laid otherwise a person goes on where they were; of another one, or after a ruling, at its head.
  const table = document.getElementById("table");
  const stays = from === location.pathname && !done && table;
  const goal = stays ? table : document.querySelector("#main h1");
  goal?.setAttribute("tabindex", stays ? "0" : "-1");
  goal?.focus({ preventScroll: true });
  if (!stays) window.scrollTo(0, 0);
});

document.addEventListener("htmx:sendError", () => {
  tell("The desk does not answer. Whether this was written is not sure: once it answers, look at the page anew.");
});
