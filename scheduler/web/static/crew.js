// A person's page in the field: reports are kept on the phone until the farm has answered, and each counts once.
"use strict";
(() => {
  const place = document.body.dataset.report, words = JSON.parse(document.getElementById("words").textContent);
  const store = "fitground " + document.body.dataset.person;
  const line = document.getElementById("line"), box = document.getElementById("ask"), form = document.getElementById("ask-form");
  let sending = false, photo = "";
  const kept = () => JSON.parse(localStorage.getItem(store) || "[]");
  const keep = (rows) => localStorage.setItem(store, JSON.stringify(rows));
  const say = (text) => { line.textContent = text; };
  const show = () => {
    const rows = kept();
    say(rows.length ? rows.length + " " + words["waiting to be sent"] : navigator.onLine ? words["Everything is sent."] : words["No network: the list stays, reports are kept and sent later."]);
  };
  const newId = () => Array.from(crypto.getRandomValues(new Uint8Array(12)), (b) => b.toString(16).padStart(2, "0")).join("");

  const tellBack = (text) => {
    const item = document.createElement("li");
    item.textContent = text;
    document.getElementById("told").append(item);
  };

  const answerTo = (block, text) => {
    const place = document.querySelector(`[data-said="${CSS.escape(block)}"]`);
    if (place) { place.textContent = text; place.hidden = false; }
  };

  async function send() {
    if (sending) return;
    sending = true;
    try {
      for (let rows = kept(); rows.length; rows = kept()) {
        let answer;
        try {
          answer = await fetch(place, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(rows[0]) });
        } catch { break; }
        if (answer.status >= 500 || answer.status === 429) break;
        const told = await answer.json().catch(() => ({}));
        keep(kept().filter((row) => row.id !== rows[0].id));
        if (told.taken) answerTo(rows[0].block, told.text);
        if (!answer.ok || told.taken === false) tellBack(words["refused"] + ": " + (told.text || told.error || answer.status));
        for (const note of told.notes || []) tellBack(words["note"] + ": " + note);
      }
    } finally { sending = false; show(); }
  }

  function tell(what, block, amount, note) {
    const row = { id: newId(), what, at: new Date().toISOString(), block, amount, note };
    if (photo) row.photo = photo;
    photo = "";
    keep([...kept(), row]);
    show();
    send();
  }

  async function shrink(file) {
    const picture = await createImageBitmap(file);
    const scale = Math.min(1, 1024 / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    return canvas.toDataURL("image/jpeg", 0.7);
  }

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-what]");
    if (!button) return;
    const { what, block, ask, title } = button.dataset;
    if (!ask) { tell(what, block || "", "", ""); return; }
    form.reset();
    form.dataset.what = what;
    form.dataset.block = block || "";
    document.getElementById("ask-title").textContent = title;
    document.getElementById("ask-amount").hidden = ask !== "amount";
    document.getElementById("ask-note").hidden = ask !== "note";
    document.getElementById("ask-photo").hidden = what !== "rig_trouble";
    box.showModal();
  });
  document.getElementById("ask-cancel").addEventListener("click", () => box.close());
  form.elements.photo.addEventListener("change", async () => {
    const file = form.elements.photo.files[0];
    photo = file ? await shrink(file).catch(() => "") : "";
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    tell(form.dataset.what, form.dataset.block, form.elements.amount.value.trim(), form.elements.note.value.trim());
    box.close();
  });
  window.addEventListener("online", send);
  window.addEventListener("offline", show);
  setInterval(send, 30000);
  if ("serviceWorker" in navigator) navigator.serviceWorker.register("/crew/service-worker.js", { scope: "/crew/" });
  show();
  send();
})();
