"use strict";
(() => {
  const all = (what, from = document) => Array.from(from.querySelectorAll(what));
  const key = "packet " + document.body.dataset.key;

  // Ticks and what is filled in are kept in this browser alone; where it keeps nothing the page works without.
  let kept = {};
  try { kept = JSON.parse(localStorage.getItem(key)) || {}; } catch { kept = {}; }
  const keep = () => { try { localStorage.setItem(key, JSON.stringify(kept)); } catch { /* nothing is kept */ } };
  for (const box of all(".tick:not(:disabled)")) {
    box.checked = Boolean(kept[box.dataset.tick]);
    box.addEventListener("change", () => {
      if (box.checked) kept[box.dataset.tick] = 1; else delete kept[box.dataset.tick];
      keep();
    });
  }
  for (const field of all("[data-note]")) {
    const name = "note " + field.dataset.note;
    if (typeof kept[name] === "string") field.value = kept[name];
    field.addEventListener("input", () => {
      if (field.value) kept[name] = field.value; else delete kept[name];
      keep();
    });
  }
  document.getElementById("untick").addEventListener("click", () => {
    for (const box of all(".tick:not(:disabled)")) { box.checked = false; delete kept[box.dataset.tick]; }
    keep();
  });

  // A piece that is touched or has the focus lights up everywhere.
  const bar = document.getElementById("lit");
  const pieces = {};
  for (const node of all("[data-piece]")) (pieces[node.dataset.piece] ||= []).push(node);
  let lit = "";
  const light = (piece) => {
    if (piece === lit) return;
    for (const node of pieces[lit] || []) node.classList.remove("lit");
    lit = piece;
    for (const node of pieces[lit] || []) node.classList.add("lit");
    const row = (pieces[lit] || []).find((node) => node.dataset.says);
    bar.hidden = !row;
    bar.querySelector("p").textContent = row ? row.dataset.says : "";
    for (const button of all("[data-go]", bar)) {
      const place = button.dataset.go;
      button.hidden = Boolean(place) && !shown(place);
    }
  };
  const shown = (place) => (pieces[lit] || []).find((node) => node.closest("#" + place) && !node.closest("g.label"));
  const pieceOf = (target) => {
    const node = target instanceof Element ? target.closest("[data-piece], [data-show]") : null;
    return node ? node.dataset.piece || node.dataset.show : "";
  };
  document.addEventListener("focusin", (event) => { const piece = pieceOf(event.target); if (piece) light(piece); });
  document.addEventListener("click", (event) => {
    if (event.target.closest("#lit")) return;
    light(pieceOf(event.target));
  });
  document.addEventListener("keydown", (event) => { if (event.key === "Escape") light(""); });
  bar.addEventListener("click", (event) => {
    const button = event.target.closest("[data-go]");
    if (!button) return;
    if (!button.dataset.go) { light(""); return; }
    const node = shown(button.dataset.go);
    const target = node.querySelector(".show") || node;
    target.focus({ preventScroll: true });
    target.scrollIntoView({ block: "center", inline: "center" });
  });

  for (const button of all(".fit")) button.addEventListener("click", () => {
    const fitted = button.closest(".sheet").classList.toggle("fitted");
    button.setAttribute("aria-pressed", String(fitted));
  });

  for (const button of all("[data-print]")) button.addEventListener("click", () => {
    const section = document.getElementById(button.dataset.print);
    const root = document.documentElement;
    const after = () => { root.classList.remove("print-one"); section.classList.remove("print-this"); };
    root.classList.add("print-one");
    section.classList.add("print-this");
    window.addEventListener("afterprint", after, { once: true });
    window.print();
  });
})();
