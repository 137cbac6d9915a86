"use strict";

// The last cases, kept in this browser and only if asked; nothing of it goes to the server.
const MOST_CASES = 12;
const remember = document.getElementById("remember");
const listed = document.getElementById("recent");

function remembered() {
  try { return JSON.parse(localStorage.getItem("cases")) || []; } catch (error) { return []; }
}

function listCases() {
  listed.replaceChildren(...remembered().map(one => {
    const anchor = Object.assign(document.createElement("a"), { href: one.href, textContent: one.words });
    const item = document.createElement("li");
    item.append(anchor);
    return item;
  }));
}

function rememberCase() {
  const sentence = document.querySelector("#lead h1");
  if (!remember.checked || !sentence) return;
  const words = `${document.querySelector("#lead .what").textContent}: ${document.getElementById("brief").textContent}`;
  const now = { href: location.pathname + location.search, words };
  // While numbers are being typed the same case answers many times: the last of a building and place counts.
  const others = remembered().filter(one => one.href !== now.href && one.words.split(":")[1] !== words.split(":")[1]);
  localStorage.setItem("cases", JSON.stringify([now, ...others].slice(0, MOST_CASES)));
  listCases();
}

remember.checked = remembered().length > 0;
remember.addEventListener("change", () => {
  if (remember.checked) return rememberCase();
  localStorage.removeItem("cases");
  listCases();
});
document.addEventListener("answered", rememberCase);
document.getElementById("fold-recent").hidden = false;
listCases();
rememberCase();
