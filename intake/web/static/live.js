// While a run is at work, the page is fetched again now and then; nothing is touched while a person types or reads a list.
const EVERY_MS = 15000;

const refresh = async () => {
  if (document.hidden || document.querySelector("main details[open]") || document.activeElement?.closest("main")) return;
  const answer = await fetch(location.href);
  if (!answer.ok) return;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("main");
  if (fresh) document.querySelector("main").replaceWith(document.adoptNode(fresh));
};

setInterval(() => refresh().catch(() => undefined), EVERY_MS);
