// Finds tools by their name; the kinds are shown by the style alone.
"use strict";
(() => {
  const find = document.getElementById("find"), shown = document.querySelector("output");
  const rows = [...document.querySelectorAll("[data-kind]")];
  const words = rows.map(row => row.querySelector("th, figcaption").textContent.toLowerCase());
  const tools = rows.filter(row => row.tagName === "TR");
  document.getElementById("find-line").hidden = false;
  const look = () => {
    const wanted = find.value.trim().toLowerCase();
    rows.forEach((row, i) => row.classList.toggle("away", !words[i].includes(wanted)));
    shown.textContent = wanted ? tools.filter(row => !row.classList.contains("away")).length + " / " + tools.length : "";
  };
  find.addEventListener("input", look);
  look();
})();
