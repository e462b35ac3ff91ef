// Nodes are made here, and only from text: nothing that a site, a preset or a device is called can become markup.

const svgSpace = 'http://www.w3.org/2000/svg';

// el makes an element. Properties that begin with "on" are listeners; "class", "data-…", "aria-…" and the like are attributes.
export function el(tag, props = {}, ...children) {
  return fill(document.createElement(tag), props, children);
}

// svg makes an element of a drawing.
export function svg(tag, props = {}, ...children) {
  return fill(document.createElementNS(svgSpace, tag), props, children);
}

function fill(node, props, children) {
  for (const [name, value] of Object.entries(props)) {
    if (name.startsWith('on')) node.addEventListener(name.slice(2), value);
    else set(node, name, value);
  }
  node.append(...children.filter((c) => c !== null && c !== undefined && c !== ''));
  return node;
}

// set writes an attribute where it differs. False and null take it away and true leaves it empty; but what is said to a screen reader says true or false.
export function set(node, name, value) {
  const spoken = name.startsWith('aria-') && typeof value === 'boolean';
  if (!spoken && (value === false || value === null || value === undefined)) {
    if (node.hasAttribute(name)) node.removeAttribute(name);
    return;
  }
  const text = value === true && !spoken ? '' : String(value);
  if (node.getAttribute(name) !== text) node.setAttribute(name, text);
}

// text writes a node's words where they differ, so that a screen reader hears changes only.
export function text(node, words) {
  if (node.textContent !== words) node.textContent = words;
}

export const byID = (id) => document.getElementById(id);

// rows keeps a parent's children in step with a list: a child for each key, made once, refreshed every time, in the list's order.
export function rows(parent, list, keyOf, make, refresh) {
  const kept = parent.kept ??= new Map();
  const seen = new Set();
  let at = parent.firstElementChild;
  list.forEach((item, i) => {
    const key = keyOf(item, i);
    seen.add(key);
    let node = kept.get(key);
    if (!node) kept.set(key, node = make(item, i));
    if (node === at) at = at.nextElementSibling;
    else parent.insertBefore(node, at);
    refresh?.(node, item, i);
  });
  for (const [key, node] of kept) {
    if (!seen.has(key)) { node.remove(); kept.delete(key); }
  }
}

// Marks carry a meaning by shape, so that none depends on colour.
const outlines = {
  admitted: 'M12 3a9 9 0 1 0 0 18a9 9 0 1 0 0-18z M7.5 12.5l3 3l6-6.5',
  refused: 'M8 2h8l6 6v8l-6 6h-8l-6-6v-8z M7 12h10',
  warn: 'M12 3l10 18h-20z M12 9v6 M12 17v1.5',
  note: 'M3 3h18v18h-18z M12 10v7 M12 6.5v1.5',
  pending: 'M3 12a9 9 0 1 0 9-9 M12 7v5l4 2',
};

// mark draws one of the shapes; the word stands beside it, so a reader does not hear the shape.
export function mark(kind) {
  return svg('svg', { class: `mark ${kind}`, viewBox: '0 0 24 24', 'aria-hidden': 'true' }, svg('path', { d: outlines[kind] }));
}
