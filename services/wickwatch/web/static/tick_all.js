// One box that ticks all others of a form. Without this each is ticked by itself.
"use strict";

for (const all of document.querySelectorAll("[data-all]")) {
  const { form } = all;
  const boxes = () => [...form.querySelectorAll(`input[type="checkbox"][name="${all.dataset.all}"]`)];

  function follow() {
    const there = boxes();
    const ticked = there.filter((box) => box.checked).length;
    all.closest("label").hidden = there.length < 2;
    all.checked = ticked > 0 && ticked === there.length;
    all.indeterminate = ticked > 0 && ticked < there.length;
  }

  all.addEventListener("change", () => {
    for (const box of boxes()) box.checked = all.checked;
    follow();
  });
  form.addEventListener("change", follow);
  document.addEventListener("replaced", follow);
  follow();
}
