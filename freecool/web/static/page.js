"use strict";

const job = document.body.dataset.job;
const pause = Number(document.body.dataset.pause);
const find = id => document.getElementById(id);
const form = find("case");
let asked = null;
let timer = 0;

function query(button) {
  return new URLSearchParams(new FormData(form, button)).toString();
}

async function* linesOf(body) {
  const reader = body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "";
  for (;;) {
    const { done, value } = await reader.read();
    if (done) return;
    const pieces = (rest + value).split("\n");
    rest = pieces.pop();
    for (const piece of pieces) yield JSON.parse(piece);
  }
}

function dim(on) {
  for (const id of ["lead", "rest"]) find(id).classList.toggle("stale", on);
}

function showFault(text) {
  find("fault").textContent = text;
  find("fault").hidden = !text;
  dim(Boolean(text));
  for (const old of form.querySelectorAll(".at")) old.remove();
  for (const entry of form.elements) {
    // A sentence names a field by its label; there it stands too.
    const label = entry.labels?.length ? entry.labels[0].textContent : "";
    const named = label && text.includes(`“${label}”`);
    entry.removeAttribute("aria-invalid");
    const help = (entry.getAttribute("aria-describedby") || "").split(" ").filter(id => id && !id.startsWith("e-"));
    if (named) help.push(`e-${entry.name}`);
    if (help.length) entry.setAttribute("aria-describedby", help.join(" ")); else entry.removeAttribute("aria-describedby");
    if (!named) continue;
    const said = Object.assign(document.createElement("p"), { className: "at", id: `e-${entry.name}`, textContent: text });
    entry.closest(".field").append(said);
    entry.setAttribute("aria-invalid", "true");
    for (let fold = entry.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
  }
}

function showWait(words, done, total) {
  find("wait").hidden = !words;
  dim(Boolean(words) || !find("fault").hidden);
  find("answer").setAttribute("aria-busy", String(Boolean(words)));
  if (!words) return;
  const told = total ? `${words}: ${done} of ${total}` : `${words} …`;
  find("wait-words").textContent = find("brief").textContent = told;
  find("brief").hidden = false;
  if (total) { find("bar").max = total; find("bar").value = done; } else find("bar").removeAttribute("value");
}

function showAnswer(answer, redraw) {
  showFault("");
  const open = new Set([...document.querySelectorAll("details[open]")].map(one => one.id));
  // The pictures follow; until then the old ones hold the place.
  const old = find("pictures") ? find("pictures").innerHTML : "";
  find("lead").innerHTML = answer.lead;
  find("rest").innerHTML = answer.rest;
  find("pictures").innerHTML = old;
  find("pictures").classList.add("stale");
  find("brief").textContent = answer.brief;
  find("brief").hidden = false;
  find("said").textContent = answer.verdict;
  for (const anchor of document.querySelectorAll("nav a")) anchor.href = `/${anchor.dataset.job}?${answer.link}`;
  for (const entry of document.querySelectorAll("[data-link]")) entry.value = answer.link;
  history.replaceState(null, "", `/${job}?${answer.link}`);
  if (redraw) {
    const focused = document.activeElement && document.activeElement.id;
    form.innerHTML = answer.form;
    if (focused && form.contains(find(focused))) find(focused).focus();
  }
  for (const id of open) if (find(id)) find(id).open = true;
  document.dispatchEvent(new Event("answered"));
}

async function ask(redraw, button) {
  clearTimeout(timer);
  if (asked) asked.abort();
  const mine = asked = new AbortController();
  const words = document.body.dataset.working;
  const late = setTimeout(() => showWait(words, 0, 0), 300);
  try {
    const reply = await fetch(`/answer/${job}?${query(button)}`, {
      headers: { Accept: "application/x-ndjson" }, signal: mine.signal,
    });
    if (!reply.ok) return showFault((await reply.json()).error);
    for await (const line of linesOf(reply.body)) {
      if (line.error) showFault(line.error);
      if (line.progress) { if (!find("wait").hidden) showWait(words, ...line.progress); }
      if (line.answer) { clearTimeout(late); showWait(""); showAnswer(line.answer, redraw); }
      if (line.result) {
        find("pictures").innerHTML = line.result.pictures;
        find("pictures").classList.remove("stale");
      }
    }
  } catch (error) {
    if (!mine.signal.aborted) showFault("The server does not answer: check that it still runs, then change a number.");
  } finally {
    clearTimeout(late);
    if (asked === mine) { asked = null; showWait(""); }
  }
}

form.addEventListener("submit", event => {
  event.preventDefault();
  ask(true, event.submitter).then(() => find("answer").focus());
});
form.addEventListener("input", event => {
  if (event.target.matches("select")) return;
  clearTimeout(timer);
  timer = setTimeout(() => ask(false), pause);
});
form.addEventListener("change", event => {
  if (event.target.matches("select")) ask(event.target.matches("[data-redraw]"));
});
find("f-weather").addEventListener("change", () => ask(false));

find("cancel").addEventListener("click", () => {
  if (asked) asked.abort();
  find("said").textContent = "Cancelled.";
  showFault("Cancelled; change a number or press “Show the answer” to start again.");
});

function useWeather(name, words) {
  const select = find("f-weather");
  if (![...select.options].some(option => option.value === name)) select.add(new Option(words, name), 0);
  select.value = name;
  return ask(true);
}

find("upload").addEventListener("submit", async event => {
  event.preventDefault();
  const said = find("upload-said");
  said.textContent = "Reading the file …";
  try {
    const reply = await fetch("/api/weather", { method: "POST", body: new FormData(event.target) });
    const told = await reply.json();
    said.textContent = reply.ok ? `${told.name}: ${told.hours} hours, ${told.filled_hours} filled.` : told.error;
    if (reply.ok) useWeather(told.weather, `Your file: ${told.name}`);
  } catch (error) {
    said.textContent = "The file could not be sent: it may be larger than 20 MB, or the server has stopped.";
  }
});
find("file").addEventListener("change", () => find("upload").requestSubmit());
find("saved-file").addEventListener("change", () => find("saved").requestSubmit());

find("s-place").addEventListener("input", async event => {
  const text = event.target.value.trim();
  if (text.length < 3 || /[0-9]/.test(text)) return;
  try {
    const reply = await fetch(`/api/places?${new URLSearchParams({ text })}`);
    if (!reply.ok || text !== event.target.value.trim()) return;
    const options = (await reply.json()).places.map(name => Object.assign(document.createElement("option"), { value: name }));
    find("s-places").replaceChildren(...options);
  } catch (error) { /* Suggestions are a help, not a need. */ }
});
find("stations").addEventListener("submit", async event => {
  event.preventDefault();
  const said = find("stations-said");
  said.textContent = "Searching …";
  try {
    const reply = await fetch(`/stations?${new URLSearchParams(new FormData(event.target))}`, {
      headers: { Accept: "application/json" },
    });
    const told = await reply.json();
    if (reply.ok) said.innerHTML = told.html; else said.textContent = told.error;
  } catch (error) {
    said.textContent = "The server does not answer: check that it still runs.";
  }
});
find("stations-said").addEventListener("click", event => {
  const anchor = event.target.closest("a[data-weather]");
  if (!anchor) return;
  event.preventDefault();
  useWeather(anchor.dataset.weather, anchor.textContent.trim());
});

document.addEventListener("focusin", event => { if (event.target.id === "link") event.target.select(); });
if (find("lead").hasAttribute("data-pending")) ask(false);
