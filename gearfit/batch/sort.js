(function () {
  document.querySelectorAll("th[scope=col]").forEach(function (head, column) {
    var button = document.createElement("button");
    button.textContent = head.textContent;
    head.textContent = "";
    head.appendChild(button);
    button.addEventListener("click", function () {
      var up = head.getAttribute("aria-sort") !== "ascending";
      document.querySelectorAll("th[aria-sort]").forEach(function (other) { other.removeAttribute("aria-sort"); });
      head.setAttribute("aria-sort", up ? "ascending" : "descending");
      var body = document.querySelector("tbody");
      Array.from(body.rows).map(function (row, place) {
        var key = row.cells[column].getAttribute("data-key");
        return { row: row, key: key, number: Number(key), place: place };
      }).sort(function (a, b) {
        if ((a.key === "") !== (b.key === "")) { return a.key === "" ? 1 : -1; }
        var order = isNaN(a.number) || isNaN(b.number) ? a.key.localeCompare(b.key) : a.number - b.number;
        return (up ? order : -order) || a.place - b.place;
      }).forEach(function (item) { body.appendChild(item.row); });
    });
  });
})();
