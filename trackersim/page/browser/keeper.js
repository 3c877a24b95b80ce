// Keeps the job, and the mornings watched at a rack, in this browser's own storage. A cookie says whether anything is
// kept, so that a new visitor waits for nothing.
const PLACE = "trackersim.job", MORNINGS = "trackersim.mornings", FLAG = "trackersim_job";
const keepers = new WeakMap();

function read(place) {
  try { return window.localStorage.getItem(place); } catch { return null; }
}
// Those typed last stay; null says that nobody has looked at them here yet.
function keepMornings(keeper, text) {
  if (text === null || text === keeper.mornings) return;
  if (text) window.localStorage.setItem(MORNINGS, text);
  else window.localStorage.removeItem(MORNINGS);
  keeper.mornings = text;
  if (text) flag("1");
}
function flag(value) {
  document.cookie = `${FLAG}=${value}; path=/; max-age=31536000; samesite=strict`;
}
// A server that was started again knows nobody, and a click in a page it has not drawn is lost on it: it is asked to draw
// the page as soon as it is back.
function watchLine(keeper) {
  const app = document.querySelector('[data-testid="stApp"]');
  const there = () => app?.dataset.testConnectionState === "CONNECTED";
  let lost = false;
  const watch = new MutationObserver(() => {
    if (!there()) lost = true;
    else if (lost) {
      lost = false;
      keeper.tell("back", true);
    }
  });
  if (app !== null) watch.observe(app, { attributeFilter: ["data-test-connection-state"] });
  return watch;
}

function answer(keeper, session) {
  if (keeper.answered === session) return;
  keeper.answered = session;
  keeper.known = read(PLACE);
  keeper.tell("found", { text: keeper.known, mornings: read(MORNINGS) });
}
function keep(keeper, data) {
  try {
    if (!data.keep) {
      window.localStorage.removeItem(PLACE);
      window.localStorage.removeItem(MORNINGS);
      keeper.known = keeper.mornings = null;
      flag("0");
      return;
    }
    keepMornings(keeper, data.mornings);
    if (data.text !== null && data.text !== keeper.known) {
      const there = read(PLACE);
      // Another window has put another job there: it is not overwritten unasked.
      if (there !== null && there !== keeper.known && there !== data.text && !data.over) {
        if (keeper.refused !== there) keeper.tell("other", { text: there });
        keeper.refused = there;
        return;
      }
      window.localStorage.setItem(PLACE, data.text);
      keeper.known = data.text;
      flag("1");
    }
  } catch {
    if (!keeper.told) keeper.tell("failed", true);
    keeper.told = true;
  }
}

export default function ({ data, parentElement, setTriggerValue }) {
  if (!keepers.has(parentElement)) keepers.set(parentElement, { answered: "", known: null, refused: null, mornings: null });
  const keeper = keepers.get(parentElement);
  keeper.tell = setTriggerValue;
  keeper.watch ??= watchLine(keeper);
  if (data.ask) answer(keeper, data.session);
  else keep(keeper, data);
  return () => {
    keeper.watch?.disconnect();
    keeper.watch = null;
  };
}
