"use strict";

const PAUSE_MS = 200;
const find = id => document.getElementById(id);
const form = find("sheet");
let asked = null;
let timer = 0;

function query() {
  return new URLSearchParams([...new FormData(form)].filter(pair => pair[1] !== "")).toString();
}

function keep(link) {
  history.replaceState(null, "", `/sheet?${link}`);
  find("link").value = location.href;
}

function show(told) {
  find("said").innerHTML = told.html;
  find("status").textContent = `${told.word}. ${told.text}`;
  find("brief").textContent = told.word[0].toUpperCase() + told.word.slice(1);
  for (const one of document.querySelectorAll(".finding"))
    one.textContent = told.positions[one.id.slice(2)] || "";
  for (const entry of form.querySelectorAll(".airs input")) {
    if (told.faults[entry.name]) entry.setAttribute("aria-invalid", "true");
    else entry.removeAttribute("aria-invalid");
  }
  find("other").href = `/sheet?${told.other}`;
  keep(told.link);
}

function fault(text) {
  find("fault").textContent = text;
  find("fault").hidden = !text;
}

async function check() {
  clearTimeout(timer);
  if (asked) asked.abort();
  const mine = asked = new AbortController();
  try {
    const reply = await fetch(`/sheet/said?${query()}`, { signal: mine.signal });
    const told = await reply.json();
    if (mine.signal.aborted) return;
    fault(reply.ok ? "" : told.error);
    if (reply.ok) show(told);
  } catch (error) {
    if (!mine.signal.aborted) fault("The server does not answer. What was filled in is kept in the address of this page.");
  }
}

form.addEventListener("input", () => {
  // Kept at once, whether or not the server is in reach.
  keep(query());
  clearTimeout(timer);
  timer = setTimeout(check, PAUSE_MS);
});
form.addEventListener("submit", event => {
  event.preventDefault();
  check().then(() => find("said").focus());
});
find("print").hidden = false;
find("print").addEventListener("click", () => print());
document.addEventListener("focusin", event => { if (event.target.id === "link") event.target.select(); });
