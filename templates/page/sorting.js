// Sorts and filters the tables marked for it, and pages through all rows of one that stands for more than it shows.
// Without this script they are plain tables, in an order of their own.
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

function column(rows, heads, index) {
  const texts = rows.map((row) => plain(row.cells[index]));
  const known = texts.filter((text) => !isUnknown(text));
  const kind = heads[index].matches(".number, .interval") ? "number"
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

// Rows that have no room on the page stand in one block of data: a text is a cell, a number one of its words.
const PAGE = 300;
const DECIMAL = ".";
function allRows(table) {
  const block = table.closest(".table").querySelector("script.all-rows");
  if (!block) return null;
  const { rows, kinds } = JSON.parse(block.textContent);
  const words = [...block.previousElementSibling.children].map((word) => word.textContent);
  const classes = [...table.tBodies[0].rows[0].cells].map((cell) => cell.className);
  return rows.map(([kind, ...cells]) => {
    const made = element("tr", { className: kinds[kind] });
    cells.forEach((cell, index) => {
      const text = typeof cell === "number" ? words[cell]
        : /number|interval/.test(classes[index]) ? cell.replace(".", DECIMAL) : cell;
      const one = element(index ? "td" : "th", { className: classes[index] }, text);
      if (!index) one.scope = "row";
      made.append(one);
    });
    return made;
  });
}

function element(name, properties, ...children) {
  const made = Object.assign(document.createElement(name), properties);
  made.append(...children);
  return made;
}

function view(rows, heads) {
  const columns = heads.map((_, index) => column(rows, heads, index));
  const texts = new Map(rows.map((row) => [row, [...row.cells].map(plain).join(" ").toLowerCase()]));
  return { rows, columns, texts };
}

function enhance(table) {
  const body = table.tBodies[0], heads = [...table.tHead.rows[0].cells];
  const names = heads.map((head) => plain(head.firstChild));
  const few = view([...body.rows], heads);
  let now = few, all = null;
  const wanted = element("input", { type: "search", autocomplete: "off", spellcheck: false });
  const status = element("span", { className: "sort-status" });
  status.setAttribute("role", "status");
  const state = { index: -1, direction: "none", page: 0, pages: 1 };

  function show({ rows, columns, texts }, sorted, words) {
    const found = rows.filter((row) => words.every((word) => texts.get(row).includes(word)));
    const ordered = sorted ? inOrder(found, columns[state.index], state.direction) : found;
    state.pages = Math.max(1, Math.ceil(found.length / PAGE));
    state.page = Math.min(state.page, state.pages - 1);
    body.replaceChildren(...(rows === few.rows ? ordered : ordered.slice(state.page * PAGE, (state.page + 1) * PAGE)));
    table.querySelectorAll(".file-order").forEach((part) => { part.hidden = sorted; });
    return found.length;
  }
  function update() {
    const { rows, columns } = now;
    const sorted = state.direction !== "none";
    const words = plain({ textContent: wanted.value }).toLowerCase().split(" ");
    const count = show(now, sorted, words);
    heads.forEach((head, index) => {
      if (sorted && index === state.index) head.setAttribute("aria-sort", state.direction);
      else head.removeAttribute("aria-sort");
    });
    const order = sorted ? `by ${names[state.index]}, ${WORDS[columns[state.index].kind][state.direction]}` : "not sorted";
    const rowWord = rows.length === 1 ? "row" : "rows";
    const place = now === few ? "" : `, page ${state.page + 1} of ${state.pages}`;
    status.textContent = `${count === rows.length ? rows.length : `${count} of ${rows.length}`} ${rowWord}, ${order}${place}`;
    pager.forEach((button, index) => {
      button.hidden = now === few;
      button.disabled = index ? state.page + 1 >= state.pages : state.page === 0;
    });
  }
  const pager = [["Previous", -1], ["Next", 1]].map(([name, step]) => {
    const button = element("button", { type: "button", className: "pager", hidden: true }, name);
    button.addEventListener("click", () => {
      state.page += step;
      update();
      if (button.disabled) pager.find((other) => !other.disabled)?.focus(); // the keyboard keeps its place
    });
    return button;
  });
  heads.forEach((head, index) => {
    const button = element("button", { type: "button", className: "sort" }, ...head.childNodes);
    button.firstChild.after(element("span", { className: "arrows", innerHTML: TRIANGLES }));
    button.addEventListener("click", () => {
      state.direction = state.index === index ? NEXT[state.direction] : "ascending";
      state.index = index;
      state.page = 0;
      update();
    });
    head.append(button);
  });
  wanted.addEventListener("focus", () => { // columns keep their widths while rows come and go
    heads.forEach((head) => { head.style.width ||= `${head.offsetWidth}px`; });
  });
  wanted.addEventListener("input", () => {
    state.page = 0;
    update();
  });
  const label = element("label", {}, "Show only rows that contain ", wanted);
  const tools = element("div", { className: "sort-tools screen-only" }, label, " ", status);
  if (table.closest(".table").querySelector("script.all-rows")) {
    const every = element("button", { type: "button", className: "pager" }, "Show all rows");
    every.setAttribute("aria-pressed", "false");
    every.addEventListener("click", () => {
      all ||= view(allRows(table), heads);
      now = now === few ? all : few;
      every.setAttribute("aria-pressed", String(now === all));
      state.page = 0;
      update();
    });
    tools.append(" ", every, ...pager);
  }
  table.closest(".table").prepend(tools);
  const setButtons = (display) => heads.forEach((head) => {
    head.style.width = "";
    head.querySelector(".sort").style.display = display;
  });
  addEventListener("beforeprint", () => { // a button in the head would keep a browser from repeating it
    setButtons("contents");
    show(few, false, []);
  });
  addEventListener("afterprint", () => {
    setButtons("");
    update();
  });
  update();
}

document.querySelectorAll("table.sortable").forEach(enhance);
