// The key / goes to the search box, as long as nobody is typing elsewhere.
"use strict";

document.addEventListener("keydown", (event) => {
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.closest("input, textarea, select, [contenteditable]")) return;
  const box = document.querySelector("#find-here, #find");
  if (!box || !box.checkVisibility()) return;
  event.preventDefault();
  box.focus();
  box.select();
});
