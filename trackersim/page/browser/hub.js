// What the parts of the page tell each other in the browser without asking the server: the table of answers worked out
// ahead, the best tree to fell, and where the strip's dial stands while it moves.
const hub = (window.trackersimHub ??= Object.assign(new EventTarget(), { table: null, best: null }));

function hear(root, name, listener) {
  const heard = (event) => (root.isConnected ? listener(event.detail) : hub.removeEventListener(name, heard));
  hub.addEventListener(name, heard);
}

function tell(name, detail) {
  hub.dispatchEvent(new CustomEvent(name, { detail }));
}

// Whole steps of the shown unit, as text.
function shown(steps, decimals) {
  const value = steps / 10 ** decimals;
  return value.toLocaleString("en-US", { minimumFractionDigits: decimals, maximumFractionDigits: decimals });
}

// The table's figures where the dial stands: between two known positions on the straight line, and null where unknown.
function atDial(key, trees, value) {
  const table = hub.table;
  if (table === null || table.key !== key) return null;
  const row = table.rows[trees] ?? [];
  let low = null, high = null;
  for (const cell of row) {
    if (cell.at <= value && (low === null || cell.at > low.at)) low = cell;
    if (cell.at >= value && (high === null || cell.at < high.at)) high = cell;
  }
  if (low === null || high === null) return null;
  const far = high.at - low.at, share = far > 0 ? (value - low.at) / far : 0;
  const between = (name) =>
    low[name] === null || high[name] === null ? null : Math.round(low[name] + share * (high[name] - low[name]));
  const late = between("late"), treesTake = between("trees");
  return {
    late, trees: treesTake, lifted: low.whole - late - treesTake, whole: low.whole,
    lost: (share < 0.5 ? low : high).lost, repair: between("repair"), open: between("open"),
  };
}
