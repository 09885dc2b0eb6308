"use strict";
/* What the views share: elements by id, what this browser keeps, and the way back. All works without it, by buttons. */
const page = (function () {
  const MOST_PAST = 50;
  const by = (id) => document.getElementById(id);
  const store = (where, name, text) => { try { if (text === null) where.removeItem(name); else where.setItem(name, text); } catch (fault) { /* a browser that keeps nothing */ } };
  const kept = (where, name) => { try { return where.getItem(name) || ""; } catch (fault) { return ""; } };

  /* A form as an address, without what is empty. */
  function query(form) {
    const out = new URLSearchParams();
    for (const [name, value] of new FormData(form)) if (typeof value === "string" && value.trim() !== "") out.append(name, value);
    return out.toString();
  }

  /* The draft under a name, kept in this browser, and the states before it, kept in this tab; the button undoes the last. */
  function draft(name, button, restore) {
    let past = JSON.parse(kept(sessionStorage, name + "-past") || "[]"), last = "";
    const enable = () => { button.disabled = past.length === 0; store(sessionStorage, name + "-past", JSON.stringify(past)); };
    button.hidden = false;
    button.addEventListener("click", () => {
      const before = past.pop();
      if (before === undefined) return;
      last = before;
      store(localStorage, name, before);
      enable();
      restore(before);
    });
    return {
      begin(now) {
        const before = kept(localStorage, name);
        if (past.length && past[past.length - 1] === now) past.pop();
        else if (before && before !== now) past.push(before);
        last = now;
        store(localStorage, name, now);
        enable();
      },
      remember(now) { if (now === last) return; past = [...past, last].slice(-MOST_PAST); last = now; store(localStorage, name, now); enable(); },
      forget() { store(localStorage, name, null); store(sessionStorage, name + "-past", null); },
    };
  }

  for (const each of document.querySelectorAll("form[data-busy]")) {
    each.addEventListener("submit", function () {
      const told = document.createElement("p");
      told.setAttribute("role", "status");
      told.textContent = each.dataset.busy;
      each.append(told);
    });
  }
  return { by, store, kept, query, draft };
})();
