// Keeps the job in this browser's own storage. A cookie says whether one is kept, so that a new visitor waits for nothing.
const PLACE = "trackersim.job", FLAG = "trackersim_job";
const keepers = new WeakMap();

function read() {
  try { return window.localStorage.getItem(PLACE); } catch { return null; }
}
function flag(value) {
  document.cookie = `${FLAG}=${value}; path=/; max-age=31536000; samesite=strict`;
}

export default function ({ data, parentElement, setTriggerValue }) {
  if (!keepers.has(parentElement)) keepers.set(parentElement, { answered: "", known: null, refused: null });
  const keeper = keepers.get(parentElement);
  if (data.ask) {
    if (keeper.answered === data.session) return;
    keeper.answered = data.session;
    keeper.known = read();
    setTriggerValue("found", { text: keeper.known });
    return;
  }
  try {
    if (!data.keep) {
      window.localStorage.removeItem(PLACE);
      keeper.known = null;
      flag("0");
    } else if (data.text !== null && data.text !== keeper.known) {
      const there = read();
      // Another window has put another job there: it is not overwritten unasked.
      if (there !== null && there !== keeper.known && there !== data.text && !data.over) {
        if (keeper.refused !== there) setTriggerValue("other", { text: there });
        keeper.refused = there;
        return;
      }
      window.localStorage.setItem(PLACE, data.text);
      keeper.known = data.text;
      flag("1");
    }
  } catch {
    if (!keeper.told) setTriggerValue("failed", true);
    keeper.told = true;
  }
}
