"use strict";
(() => {
  const root = document.documentElement;
  const units = document.querySelector(".units");
  units.hidden = false;
  units.addEventListener("change", (event) => { root.dataset.unit = event.target.value; });

  const METRES_PER_MILE = 1609.344;
  const setups = JSON.parse(document.getElementById("samples").textContent);
  const told = document.querySelector(".told");
  const NEAR = 24;

  const show = (text, x, y) => {
    told.textContent = text;
    told.style.left = Math.max(Math.min(x + 14, innerWidth - told.offsetWidth - 8), 4) + "px";
    told.style.top = Math.max(y - told.offsetHeight - 12, 4) + "px";
  };
  const speed = (hundredths) => {
    const metres = hundredths / 100;
    return root.dataset.unit === "mph"
      ? (metres * 3600 / METRES_PER_MILE) : (metres * 3.6);
  };
  const sentence = (setup, i) => {
    const unit = root.dataset.unit === "mph" ? "mph" : "km/h";
    const gear = setup.gear[i] ? "gear " + setup.gear[i] : "left out";
    const time = setup.time[i] < 0 ? "" : ", " + (setup.time[i] / 10).toFixed(1) + " s";
    return speed(setup.speed[i]).toFixed(1) + " " + unit + ", " + setup.rpm[i] + " rpm, " + gear + time;
  };

  const nearest = (svg, x, y) => {
    const box = svg.getBoundingClientRect();
    let best = null;
    JSON.parse(svg.dataset.panels).forEach(([left, top, width, height, x0, x1, y0, y1], panel) => {
      const setup = setups[panel];
      setup.rpm.forEach((rpm, i) => {
        const px = box.left + box.width * (left + width * (rpm - x0) / (x1 - x0));
        const py = box.top + box.height * (top + height * (1 - (speed(setup.speed[i]) - y0) / (y1 - y0)));
        const away = Math.hypot(px - x, py - y);
        if (away <= NEAR && (!best || away < best.away)) best = { away, setup, i };
      });
    });
    return best;
  };

  const tell = (event) => {
    const drawing = event.target.closest && event.target.closest(".drawing");
    const svg = drawing && event.target.closest("svg");
    if (!svg) { told.textContent = ""; return; }
    const title = [...svg.querySelectorAll("title")].find((mark) => {
      const box = mark.parentNode.getBoundingClientRect();
      return event.clientX >= box.left - 6 && event.clientX <= box.right + 6
        && event.clientY >= box.top - 6 && event.clientY <= box.bottom + 6;
    });
    if (title) { show(title.textContent, event.clientX, event.clientY); return; }
    const found = svg.dataset.panels && nearest(svg, event.clientX, event.clientY);
    if (found) show(sentence(found.setup, found.i), event.clientX, event.clientY);
    else told.textContent = "";
  };
  document.addEventListener("pointermove", tell);
  document.addEventListener("pointerdown", tell);
  document.addEventListener("keydown", (event) => { if (event.key === "Escape") told.textContent = ""; });
})();
