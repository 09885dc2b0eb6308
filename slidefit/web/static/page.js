"use strict";
/* The page works without this: it says what takes a while. */
(function () {
  for (const each of document.querySelectorAll("form[data-busy]")) {
    each.addEventListener("submit", function () {
      const told = document.createElement("p");
      told.setAttribute("role", "status");
      told.textContent = each.dataset.busy;
      each.append(told);
    });
  }
})();
