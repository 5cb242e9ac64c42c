// Sorts and filters the tables marked for it. Without this script they are plain tables, in an order of their own.
"use strict";
const TRIANGLES = '<svg class="arrow" viewBox="0 0 8 13" aria-hidden="true"><path class="up" d="M0 5.5 4 0l4 5.5z"/><path class="down" d="M0 7.5h8L4 13z"/></svg>';
const WORDS = {
  number: { ascending: "smallest first", descending: "largest first" },
  date: { ascending: "earliest first", descending: "latest first" },
  text: { ascending: "A to Z", descending: "Z to A" },
};
const NEXT = { none: "ascending", ascending: "descending", descending: "none" };
const collator = new Intl.Collator("en", { numeric: true }); // c07-9 before c07-10

// Figure and punctuation space pad numbers, a narrow one parts groups of figures: none belongs to the value.
const plain = (node) => node.textContent.replace(/[\u2007\u2008\u202f]/g, "").replace(/\s+/g, " ").trim();
const isDate = (text) => /^\d{4}-\d\d-\d\d/.test(text);
// What is unknown stands last whichever way the rest goes.
const isUnknown = (text) => /^(not |none$|[\u2013\u2014]$|$)/i.test(text);
const number = (text) => {
  const found = /^[<>\u2264\u2265\u2248\u00b1]? ?([-+\u2212]?\d+(?:\.\d+)?)/.exec(text);
  return found ? Number(found[1].replace("\u2212", "-")) : null;
};

function column(table, index) {
  const rows = [...table.tBodies[0].rows];
  const texts = rows.map((row) => plain(row.cells[index]));
  const known = texts.filter((text) => !isUnknown(text));
  const kind = table.tHead.rows[0].cells[index].matches(".number, .interval") ? "number"
    : known.length && known.every(isDate) ? "date" : "text";
  const value = kind === "number" ? number : (text) => (isUnknown(text) ? null : text);
  return { kind, values: new Map(rows.map((row, i) => [row, value(texts[i])])) };
}

function inOrder(rows, { kind, values }, direction) {
  const sign = direction === "ascending" ? 1 : -1;
  return [...rows].sort((a, b) => {
    const [left, right] = [values.get(a), values.get(b)];
    if (left === null || right === null) return (left === null) - (right === null);
    return sign * (kind === "number" ? left - right : collator.compare(left, right));
  });
}

function element(name, properties, ...children) {
  const made = Object.assign(document.createElement(name), properties);
  made.append(...children);
  return made;
}

function enhance(table) {
  const body = table.tBodies[0], rows = [...body.rows], heads = [...table.tHead.rows[0].cells];
  const columns = heads.map((_, index) => column(table, index));
  const names = heads.map((head) => plain(head.firstChild));
  const texts = new Map(rows.map((row) => [row, [...row.cells].map(plain).join(" ").toLowerCase()]));
  const wanted = element("input", { type: "search", autocomplete: "off", spellcheck: false });
  const status = element("span", { className: "sort-status" });
  status.setAttribute("role", "status");
  const state = { index: -1, direction: "none" };

  function show(sorted, words) {
    const shown = rows.filter((row) => words.every((word) => texts.get(row).includes(word)));
    body.replaceChildren(...(sorted ? inOrder(shown, columns[state.index], state.direction) : shown));
    table.querySelectorAll(".file-order").forEach((part) => { part.hidden = sorted; });
    return shown.length;
  }
  function update() {
    const sorted = state.direction !== "none";
    const words = plain({ textContent: wanted.value }).toLowerCase().split(" ");
    const count = show(sorted, words);
    heads.forEach((head, index) => {
      if (sorted && index === state.index) head.setAttribute("aria-sort", state.direction);
      else head.removeAttribute("aria-sort");
    });
    const order = sorted ? `by ${names[state.index]}, ${WORDS[columns[state.index].kind][state.direction]}` : "not sorted";
    const rowWord = rows.length === 1 ? "row" : "rows";
    status.textContent = `${count === rows.length ? rows.length : `${count} of ${rows.length}`} ${rowWord}, ${order}`;
  }
  heads.forEach((head, index) => {
    const button = element("button", { type: "button", className: "sort" }, ...head.childNodes);
    button.firstChild.after(element("span", { className: "arrows", innerHTML: TRIANGLES }));
    button.addEventListener("click", () => {
      state.direction = state.index === index ? NEXT[state.direction] : "ascending";
      state.index = index;
      update();
    });
    head.append(button);
  });
  wanted.addEventListener("focus", () => { // columns keep their widths while rows come and go
    heads.forEach((head) => { head.style.width ||= `${head.offsetWidth}px`; });
  });
  wanted.addEventListener("input", update);
  const label = element("label", {}, "Show only rows that contain ", wanted);
  table.closest(".table").prepend(element("div", { className: "sort-tools screen-only" }, label, " ", status));
  const setButtons = (display) => heads.forEach((head) => {
    head.style.width = "";
    head.querySelector(".sort").style.display = display;
  });
  addEventListener("beforeprint", () => { // a button in the head would keep a browser from repeating it
    setButtons("contents");
    show(false, []);
  });
  addEventListener("afterprint", () => {
    setButtons("");
    update();
  });
  update();
}

document.querySelectorAll("table.sortable").forEach(enhance);
