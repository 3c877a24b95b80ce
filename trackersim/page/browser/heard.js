// Tells the server which run of the page is drawn: it is the last thing a run draws, and what came before it is there,
// but for parts whose script is still under way.
const asked = new WeakMap();
const PAUSE_MS = 100;

export default function ({ data, parentElement }) {
  const { address } = data;
  if (!address || asked.get(parentElement) === address) return;
  asked.set(parentElement, address);
  const tell = () => {
    if (asked.get(parentElement) !== address) return; // a later run has more to say
    if (document.querySelector('[data-testid="stSkeleton"]') !== null) setTimeout(tell, PAUSE_MS);
    else fetch(address).catch(() => null); // without a server: the next run says it again
  };
  setTimeout(tell, PAUSE_MS);
}
