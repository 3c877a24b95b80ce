// Hands the table of answers to the other parts, and asks for the rest of it while it is not whole.
const timers = new WeakMap();

export default function ({ data, parentElement, setTriggerValue }) {
  hub.table = data.table;
  tell("table", null);
  clearInterval(timers.get(parentElement));
  // Again and again, since an answer that says the same as the one before does not come here.
  if (!data.whole) timers.set(parentElement, setInterval(() => setTriggerValue("more", true), data.after_ms));
  return () => clearInterval(timers.get(parentElement));
}
