"use strict";
(function () {
  const all = (selector, within) => Array.from((within || document).querySelectorAll(selector));
  const send = (address, data) => fetch(address, {
    method: "POST", headers: { "Content-Type": "application/json", "Accept": "application/json" }, body: JSON.stringify(data || {}),
  });
  const later = (wait, work) => { let timer; return () => { clearTimeout(timer); timer = setTimeout(work, wait); }; };
  const GONE = "gearfit has ended: nothing is saved any more. Start it again with: gearfit open";

  // This page is open; the program ends when no page is.
  const page = crypto.randomUUID();
  const here = () => send("/here/" + page).catch(() => {});
  here();
  setInterval(here, 20000);
  addEventListener("pageshow", here);
  addEventListener("pagehide", () => navigator.sendBeacon("/gone/" + page));

  // The machine: what the teeth lead one to expect, beside the fields.
  const machine = document.getElementById("machine");
  if (machine) {
    const live = document.getElementById("live"), known = document.getElementById("known");
    let asked = 0;
    const predict = () => {
      const mine = ++asked;
      const fields = Object.fromEntries(new FormData(machine));
      send(machine.dataset.live, { fields: fields, known: known.value }).then((answer) => answer.json()).then((found) => {
        if (mine !== asked) { return; }
        live.replaceChildren(...(found.lines || []).map((text) => Object.assign(document.createElement("p"), { textContent: text })));
        all(".field .fault", machine).forEach((place) => {
          const name = place.id.slice("fault-".length), said = (found.faults || {})[name] || "";
          place.textContent = said;
          const field = place.closest(".field");
          field.classList.toggle("wrong", Boolean(said));
          const input = field.querySelector("input, select");
          if (said) { input.setAttribute("aria-invalid", "true"); } else { input.removeAttribute("aria-invalid"); }
        });
      }).catch(() => { live.textContent = GONE; });
    };
    machine.addEventListener("input", later(250, predict));
    predict();
  }

  // Readings: a table that grows, saves itself and points at what does not fit.
  const NOTE = /(?:^|[\s,;])(\d)\s*(?:st|nd|rd|th|\.)?(?:\s+gear)?[\s,;:]+(\d{3,5})\s*(?:rpm|rev\/min|1\/min)?[\s,;@at]+(\d{1,3}(?:[.,]\d+)?)\s*(?:km\/?h|kph|mph)?\s*$/i;
  const cells = (line) => {
    if (line.includes("\t")) { return line.split("\t"); }
    const note = NOTE.exec(line);
    if (note) { return note.slice(1); }
    return line.split(line.includes(";") ? ";" : line.includes(",") ? "," : /\s+/).map((cell) => cell.trim());
  };
  all(".sheet").forEach((sheet) => {
    const body = sheet.querySelector("tbody"), said = sheet.querySelector(".said");
    const heads = () => all("th[data-head]", sheet).map((cell) => cell.dataset.head);
    const inputs = (row) => all("input", row);
    const shown = (row) => inputs(row).slice(0, heads().length);
    const rows = () => all("tr", body).map((row) => inputs(row).map((input) => input.value));
    const addRow = () => {
      const row = document.createElement("tr");
      all("th[data-head]", sheet).forEach((head) => {
        const input = Object.assign(document.createElement("input"), { autocomplete: "off" });
        input.setAttribute("aria-label", head.textContent);
        const cell = document.createElement("td");
        cell.append(input);
        row.append(cell);
      });
      row.append(Object.assign(document.createElement("td"), { className: "misfit" }));
      body.append(row);
      return row;
    };
    const grow = () => {
      const last = body.lastElementChild;
      if (!last || inputs(last).some((input) => input.value.trim())) { addRow(); }
    };
    const pointOut = () => send(sheet.dataset.misfits, { head: heads(), rows: rows() }).then((answer) => answer.json()).then((found) => {
      all("tr", body).forEach((row, place) => {
        const text = (found.misfits || {})[place] || "";
        row.classList.toggle("odd", Boolean(text));
        row.querySelector(".misfit").textContent = text;
      });
    }).catch(() => {});
    const conflict = (theirs) => {
      said.replaceChildren();
      const box = Object.assign(document.createElement("div"), { className: "stale" });
      box.setAttribute("role", "alert");
      box.append(Object.assign(document.createElement("p"), { textContent: "Another window or program saved this sheet meanwhile. Yours stands above, theirs here:" }));
      const table = document.createElement("table");
      [theirs.head].concat(theirs.rows).forEach((cellsOfRow) => {
        const row = table.insertRow();
        cellsOfRow.forEach((text) => { row.insertCell().textContent = text; });
      });
      const keep = Object.assign(document.createElement("button"), { textContent: "Keep mine", type: "button" });
      keep.onclick = () => { sheet.dataset.revision = theirs.revision; save(); };
      const take = Object.assign(document.createElement("button"), { textContent: "Take theirs", type: "button" });
      take.onclick = () => location.reload();
      box.append(table, keep, " ", take);
      said.append(box);
    };
    let saving = Promise.resolve();
    const save = () => {
      saving = saving.then(() => send(sheet.dataset.save, {
        head: heads(), rows: rows(), revision: sheet.dataset.revision, delimiter: sheet.dataset.delimiter,
      })).then((answer) => answer.json().then((found) => {
        if (answer.status === 409) { conflict(found); return; }
        if (!answer.ok) { said.textContent = found.fault; return; }
        sheet.dataset.revision = found.revision;
        said.textContent = "Saved.";
      })).catch(() => { said.textContent = GONE; });
      return saving;
    };
    const saveSoon = later(500, save), pointSoon = later(400, pointOut);
    const changed = () => { grow(); said.textContent = "…"; saveSoon(); pointSoon(); };
    const go = (row, column) => {
      if (!row) { return; }
      const target = shown(row)[Math.max(0, Math.min(column, heads().length - 1))];
      target.focus();
      target.select();
    };
    body.addEventListener("input", changed);
    body.addEventListener("keydown", (event) => {
      const input = event.target, row = input.closest("tr"), column = shown(row).indexOf(input);
      const atStart = input.selectionStart === 0 && input.selectionEnd === input.value.length || input.selectionEnd === 0;
      const atEnd = input.selectionStart === input.value.length || input.selectionStart === 0 && input.selectionEnd === input.value.length;
      const moves = {
        ArrowUp: () => go(row.previousElementSibling, column), ArrowDown: () => go(row.nextElementSibling, column),
        ArrowLeft: () => atStart && column > 0 && go(row, column - 1), ArrowRight: () => atEnd && column < heads().length - 1 && go(row, column + 1),
        Enter: () => { grow(); if (column < heads().length - 1) { go(row, column + 1); } else { go(row.nextElementSibling, 0); } },
      };
      if (event.key in moves && !event.ctrlKey && !event.metaKey && moves[event.key]() !== false) { event.preventDefault(); }
    });
    body.addEventListener("paste", (event) => {
      const text = event.clipboardData.getData("text/plain").replace(/\r/g, "").replace(/\n+$/, "");
      if (!/[\t\n]/.test(text) && !NOTE.test(text)) { return; }
      event.preventDefault();
      let row = event.target.closest("tr");
      const from = shown(row).indexOf(event.target);
      text.split("\n").filter((line) => line.trim()).forEach((line) => {
        if (!row) { row = addRow(); }
        const targets = shown(row);
        cells(line).forEach((cell, i) => { if (targets[from + i]) { targets[from + i].value = cell.trim(); } });
        row = row.nextElementSibling;
      });
      changed();
    });
    const choice = sheet.querySelector("[data-heads]");
    if (choice) {
      choice.addEventListener("change", () => {
        const names = choice.value.split(","), labels = { km: "km/h", mp: "mph" };
        all("th[data-head]", sheet).forEach((head, i) => {
          head.dataset.head = names[i];
          const unit = /_(km|mp)h$/.exec(names[i]);
          if (unit) {
            const what = names[i].startsWith("indicated") ? "Speed on the dash" : names[i].startsWith("from") ? "From"
              : names[i].startsWith("to") ? "To" : names[i].startsWith("gps") ? "Satellite" : "Speed (satellite)";
            head.textContent = what + ", " + labels[unit[1]];
          }
        });
        changed();
      });
    }
    addEventListener("beforeunload", (event) => { if (said.textContent === "…") { save(); event.preventDefault(); } });
    grow();
    pointOut();
  });

  // Logs: files dropped, chosen, or dragged over.
  all(".drop").forEach((side) => {
    const said = side.querySelector(".said");
    const take = async (files) => {
      const faults = [];
      for (const file of files) {
        said.textContent = "Taking in " + file.name + " …";
        try {
          const answer = await fetch(side.dataset.drop + "?name=" + encodeURIComponent(file.name), { method: "POST", headers: { "Accept": "application/json" }, body: file });
          if (!answer.ok) { faults.push((await answer.json()).fault); }
        } catch (error) { faults.push(file.name + ": it could not be sent."); }
      }
      if (faults.length) { said.textContent = faults.join(" "); said.className = "said fault"; } else { location.reload(); }
    };
    side.querySelector("input[type=file]").addEventListener("change", (event) => take(event.target.files));
    side.addEventListener("dragover", (event) => { event.preventDefault(); side.classList.add("over"); });
    side.addEventListener("dragleave", () => side.classList.remove("over"));
    side.addEventListener("drop", (event) => {
      event.preventDefault();
      side.classList.remove("over");
      if (event.dataTransfer.files.length) { take(event.dataTransfer.files); return; }
      const moved = all("li[draggable]").find((item) => item.classList.contains("moving"));
      const button = moved && all("form button", moved).find((each) => each.value === side.dataset.setup);
      if (button) { button.click(); }
    });
  });
  all("li[draggable]").forEach((item) => {
    item.addEventListener("dragstart", (event) => { item.classList.add("moving"); event.dataTransfer.setData("text/plain", item.dataset.name); });
    item.addEventListener("dragend", () => item.classList.remove("moving"));
  });

  // The report: made again whenever the folder has changed.
  const report = document.getElementById("report");
  if (report) {
    const said = report.querySelector(".said"), frame = report.querySelector("iframe"), answer = document.getElementById("answer");
    let times = -1;
    const look = () => fetch(report.dataset.state, { headers: { "Accept": "application/json" } }).then((found) => found.json()).then((state) => {
      said.textContent = state.busy ? "Making the report …" : state.fault;
      said.className = state.fault && !state.busy ? "said fault" : "said";
      answer.replaceChildren(...state.answer.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
      if (!state.busy && state.times > 0 && state.times !== times && !state.fault) {
        times = state.times;
        document.getElementById("share").hidden = false;
        frame.hidden = false;
        frame.src = report.dataset.file + "?" + times;
      }
      setTimeout(look, 1000);
    }).catch(() => { said.textContent = GONE; });
    look();
  }
})();
