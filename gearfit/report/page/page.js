"use strict";
(() => {
  const units = document.querySelector(".units");
  units.hidden = false;
  units.addEventListener("change", (event) => { document.documentElement.dataset.unit = event.target.value; });
})();
