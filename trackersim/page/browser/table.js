// Hands the table of answers to the other parts, and asks for the rest of it while it is not whole.
const timers = new WeakMap();

function take(found) {
  hub.table = found.table;
  hub.best = found.best_tree;
  tell("table", null);
}

export default function ({ data, parentElement }) {
  take(data);
  clearInterval(timers.get(parentElement));
  if (data.whole) return;
  let asking = false;
  const timer = setInterval(async () => {
    if (asking) return;
    asking = true;
    const answer = await fetch(data.address).catch(() => null); // without a server: perhaps next time
    const found = answer?.ok ? await answer.json().catch(() => null) : null;
    asking = false;
    if (!found || timers.get(parentElement) !== timer) return; // meanwhile another job is looked at
    take(found);
    if (found.whole) clearInterval(timer);
  }, data.after_ms);
  timers.set(parentElement, timer);
  return () => {
    clearInterval(timer);
    if (timers.get(parentElement) === timer) timers.delete(parentElement);
  };
}
