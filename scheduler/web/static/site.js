// The manager's pages work without this; it adds dragging of blocks and keeps long tables usable from the keyboard.
"use strict";
document.addEventListener("dragstart", (event) => {
  const block = event.target.closest("[data-block]");
  if (block) event.dataTransfer.setData("text/plain", block.dataset.block + "|" + block.dataset.clock);
});
document.addEventListener("dragover", (event) => {
  const cell = event.target.closest("[data-day]");
  if (cell) { event.preventDefault(); cell.classList.add("over"); }
});
document.addEventListener("dragleave", (event) => {
  const cell = event.target.closest("[data-day]");
  if (cell && !cell.contains(event.relatedTarget)) cell.classList.remove("over");
});
document.addEventListener("drop", (event) => {
  const cell = event.target.closest("[data-day]");
  if (!cell) return;
  event.preventDefault();
  cell.classList.remove("over");
  const [block, clock] = event.dataTransfer.getData("text/plain").split("|");
  const form = document.getElementById("move");
  if (!form || !block) return;
  form.elements.block.value = block;
  form.elements.start.value = cell.dataset.day + "T" + clock;
  htmx.trigger(form, "submit");
});
