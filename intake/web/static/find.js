// Find: a picture dropped anywhere on the form is taken; each hit has the offered picture laid over it.
const form = document.getElementById("drop");
const field = document.getElementById("picture");
const waiting = document.getElementById("waiting");

const send = () => {
  waiting.textContent = "Looking through all consignments. This takes some seconds.";
  form.classList.add("sent");
};

for (const name of ["dragenter", "dragover"]) {
  document.addEventListener(name, (event) => {
    if (![...event.dataTransfer.types].includes("Files")) return;
    event.preventDefault();
    form.classList.add("over");
  });
}
document.addEventListener("dragleave", (event) => { if (!event.relatedTarget) form.classList.remove("over"); });
document.addEventListener("drop", (event) => {
  if (!event.dataTransfer.files.length) return;
  event.preventDefault();
  form.classList.remove("over");
  field.files = event.dataTransfer.files;
  form.requestSubmit();
});
form.addEventListener("submit", send);
window.addEventListener("pageshow", () => { waiting.textContent = ""; form.classList.remove("sent"); });

for (const hit of document.querySelectorAll(".found li")) {
  const top = hit.querySelector(".top");
  const label = hit.querySelector(".over-it");
  if (!top || !label) continue;
  const amount = label.querySelector("input");
  const mix = () => { top.style.opacity = amount.value / 100; };
  label.hidden = false;
  amount.addEventListener("input", mix);
  new IntersectionObserver(([seen], watch) => {
    if (!seen.isIntersecting) return;
    watch.disconnect();
    top.src = top.dataset.src;
    mix();
  }, { rootMargin: "400px" }).observe(hit);
}
