// Hands the table of answers to the other parts, and asks for the rest of it while it is not whole.
const timers = new WeakMap();

export default function ({ data, parentElement, setTriggerValue }) {
  hub.table = data.table;
  tell("table", null);
  clearTimeout(timers.get(parentElement));
  if (!data.whole) timers.set(parentElement, setTimeout(() => setTriggerValue("more", true), data.after_ms));
  return () => clearTimeout(timers.get(parentElement));
}
