// What the toolkit's links of the top row lack: which of them leads to where one is, for ears as well as eyes, and the
// address of the first place, which is empty and in a window of its own would open the place one is in.
const watched = new WeakMap();

export default function ({ data, parentElement }) {
  const row = document.querySelector(".st-key-top");
  const mend = () => {
    for (const link of row.querySelectorAll("a")) {
      if (link.textContent.trim() === data.here) link.setAttribute("aria-current", "page");
      else link.removeAttribute("aria-current");
      const address = link.getAttribute("href");
      if (/^(\?|$)/.test(address)) link.setAttribute("href", `/${address}`);
    }
  };
  watched.get(parentElement)?.disconnect();
  const watch = new MutationObserver(mend); // some links may come later than this
  watched.set(parentElement, watch);
  watch.observe(row, { childList: true, subtree: true, attributeFilter: ["href"] });
  mend();
  return () => watch.disconnect();
}
