"use strict";
(() => {
  const root = document.documentElement;
  const units = document.querySelector(".units");
  units.hidden = false;
  units.addEventListener("change", (event) => { root.dataset.unit = event.target.value; });
})();
