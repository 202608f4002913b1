"use strict";
(() => {
  const root = document.documentElement;
  const units = document.querySelector(".units");
  units.hidden = false;
  units.addEventListener("change", (event) => { root.dataset.unit = event.target.value; });

  const METRES_PER_MILE = 1609.344;
  const SHARES = 10000;
  const NEAR = 24;
  const KEYS = { ArrowRight: [0, 1], ArrowLeft: [0, -1], ArrowDown: [1, 0], ArrowUp: [-1, 0], Home: [0, -Infinity], End: [0, Infinity] };
  const pictures = JSON.parse(document.getElementById("sentences").textContent);
  const told = document.querySelector(".told");
  const ring = document.createElement("div");
  ring.className = "ring";

  const perUnit = () => (root.dataset.unit === "mph" ? 3600 / METRES_PER_MILE : 3.6);
  const unit = () => (root.dataset.unit === "mph" ? "mph" : "km/h");
  const number = (value, decimals) => value.toFixed(decimals).replace("-", "\u2212");
  const written = (value, how) => {
    if (how === "speed") return number(value * perUnit(), 1) + "\u00a0" + unit();
    if (how === "sloth") return number(value / perUnit(), 1) + "\u00a0rpm per " + unit();
    if (how === "gear") return value ? "gear " + value : "left out";
    return typeof value === "number" ? number(value, Number(how)) : value;
  };
  const sentence = (line, i) => {
    const said = line.parts.map(([words, ...columns]) => {
      const values = columns.map((column) => (Array.isArray(column) ? column[i] : column));
      if (values.includes(null)) return "";
      return words.replace(/\{(\w*)\}/g, (_, how) => written(values.shift(), how));
    }).filter(Boolean).join(", ");
    return line.name ? line.name + ": " + said : said;
  };

  const places = new Map();
  const placesOf = (svg) => {
    if (!places.has(svg)) places.set(svg, JSON.parse(svg.dataset.points));
    return places.get(svg);
  };
  const shown = (drawing) => [...drawing.querySelectorAll("svg[data-points]")].find((svg) => svg.getClientRects().length);
  const at = (svg, s, i) => {
    const [x, y] = placesOf(svg)[s].slice(2 * i, 2 * i + 2);
    const box = svg.getBoundingClientRect();
    return x < 0 ? null : [box.left + box.width * x / SHARES, box.top + box.height * y / SHARES];
  };

  const hide = () => { told.textContent = ""; ring.remove(); };
  const tell = (drawing, s, i) => {
    const place = at(shown(drawing), s, i);
    told.textContent = sentence(pictures[drawing.dataset.picture][s], i);
    if (!place) { ring.remove(); return; }
    const box = drawing.getBoundingClientRect();
    ring.style.left = place[0] - box.left - drawing.clientLeft + "px";
    ring.style.top = place[1] - box.top - drawing.clientTop + "px";
    drawing.append(ring);
    told.style.left = Math.max(Math.min(place[0] + 14, innerWidth - told.offsetWidth - 8), 4) + "px";
    told.style.top = Math.max(place[1] - told.offsetHeight - 14, 4) + "px";
  };

  const nearest = (drawing, svg, x, y) => {
    let best = null;
    const box = svg.getBoundingClientRect();
    pictures[drawing.dataset.picture].forEach((line, s) => {
      const flat = placesOf(svg)[s];
      for (let i = 0; i < line.points; i += 1) {
        if (flat[2 * i] < 0) continue;
        const dx = box.left + box.width * flat[2 * i] / SHARES - x;
        const dy = box.top + box.height * flat[2 * i + 1] / SHARES - y;
        const away = line.level && dy < NEAR && Math.abs(dx) < NEAR / 4 ? Math.min(Math.abs(dx), Math.hypot(dx, dy)) : Math.hypot(dx, dy);
        if (away <= NEAR && (!best || away < best.away)) best = { away, s, i };
      }
    });
    return best;
  };

  const point = (event) => {
    const drawing = event.target.closest && event.target.closest(".drawing");
    const svg = drawing && pictures[drawing.dataset.picture] && shown(drawing);
    const found = svg && nearest(drawing, svg, event.clientX, event.clientY);
    if (found) tell(drawing, found.s, found.i);
    else if (!drawing || drawing !== document.activeElement) hide();
  };

  const step = (drawing, event) => {
    if (event.key === "Escape") { hide(); return; }
    const move = KEYS[event.key];
    if (!move) return;
    event.preventDefault();
    const lines = pictures[drawing.dataset.picture];
    const now = drawing.place || [0, -1];
    const s = Math.max(0, Math.min(now[0] + move[0], lines.length - 1));
    const moved = s === now[0] ? now[1] + move[1] : now[1] * lines[s].points / lines[now[0]].points;
    drawing.place = [s, Math.max(0, Math.min(Math.round(moved), lines[s].points - 1))];
    tell(drawing, ...drawing.place);
  };

  document.querySelectorAll(".drawing").forEach((drawing) => {
    const name = drawing.dataset.picture;
    if (!pictures[name]) return;
    drawing.querySelectorAll("title").forEach((title) => title.remove());
    drawing.tabIndex = 0;
    drawing.setAttribute("role", "application");
    drawing.setAttribute("aria-labelledby", "title-" + name);
    drawing.setAttribute("aria-describedby", "keys");
    drawing.addEventListener("keydown", (event) => step(drawing, event));
    drawing.addEventListener("blur", hide);
  });
  document.addEventListener("pointermove", point);
  document.addEventListener("pointerdown", point);
})();
