// Small comforts for the picture; it is complete without them. Scrolls to today, says in words
// what the pointer or the keyboard is on, and dims what belongs to other pieces.
"use strict";

(() => {
  const frame = document.querySelector(".wa-frame");
  if (!frame) return;

  const names = frame.querySelector(".wa-column").getBoundingClientRect().width;
  const today = Number(frame.dataset.today);
  frame.scrollLeft = Math.max(0, today - (frame.clientWidth - names) * 0.4);

  const words = document.querySelector(".wa-words");
  const picture = frame.querySelector(".wa-picture");
  if (words) words.textContent = words.dataset.empty;

  const attend = (target) => {
    const shape = target && target.closest ? target.closest("[data-pieces]") : null;
    const group = shape || (target && target.querySelector ? target.querySelector("[data-pieces]") : null);
    picture.querySelectorAll(".wa-lit").forEach((each) => each.classList.remove("wa-lit"));
    picture.classList.toggle("wa-attending", Boolean(group && group.dataset.pieces));
    if (!group) {
      if (words) words.textContent = words.dataset.empty;
      return;
    }
    const wanted = new Set(group.dataset.pieces.split(" "));
    picture.querySelectorAll("[data-pieces]").forEach((each) => {
      if (each.dataset.pieces.split(" ").some((piece) => wanted.has(piece))) each.classList.add("wa-lit");
    });
    const title = group.querySelector("title");
    if (words && title) words.textContent = title.textContent.replaceAll("\n", " ");
  };

  picture.addEventListener("pointerover", (event) => attend(event.target));
  picture.addEventListener("pointerleave", () => attend(null));
  picture.addEventListener("focusin", (event) => attend(event.target));
  picture.addEventListener("focusout", () => attend(null));
})();
