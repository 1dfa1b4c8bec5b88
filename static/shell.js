// Every page: theme switch, printing, focus on what went wrong, installable app where allowed.
(() => {
  const { say, outbox } = midlimit;
  const root = document.documentElement;

  const isDark = () =>
    root.dataset.theme === "dark" ||
    (root.dataset.theme !== "light" && matchMedia("(prefers-color-scheme: dark)").matches);

  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-theme-switch]")) {
      root.dataset.theme = isDark() ? "light" : "dark";
      document.cookie = `theme=${root.dataset.theme}; path=/; max-age=31536000; samesite=lax`;
    }
    if (event.target.closest("[data-print]")) print();
  });

  document.querySelector(".problems")?.focus();

  // What was logged and is not stored yet, on every page but those that have a place of their own for it.
  const line = document.querySelector("[data-waits]");

  function tellWaiting() {
    const late = outbox.all().filter((entry) => entry.state === "refused" || outbox.isLate(entry));
    const held = late.find((entry) => entry.state === "refused");
    const one = held || late[0];
    line.hidden = !one;
    if (!one) return line.replaceChildren();
    line.replaceChildren(`${wordsOf(late.length, held)} `, held && isHere(one) ? leaving(one) : wayTo(one));
  }

  function wordsOf(n, held) {
    if (held) return say("{entry} was not stored: settle it at the lathe.", { entry: held.shown });
    if (outbox.isShutOut()) return say("{n} waiting: sent when this device is paired to log.", { n });
    if (n > 1) return say("{n} entries wait: sent when the link is back.", { n });
    return say("One entry waits: sent when the link is back.");
  }

  const isHere = (entry) => entry.page.split("?")[0] === location.pathname;

  function wayTo(entry) {
    const link = document.createElement("a");
    link.href = entry.page;
    link.textContent = entry.place;
    return link;
  }

  // The page it would be settled on is not there any more.
  function leaving(entry) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = say("Leave out {entry}", { entry: entry.shown });
    button.addEventListener("click", () => outbox.drop(entry.id));
    return button;
  }

  if (line) outbox.on("changed", tellWaiting);

  // The copy that shows when the server can't be reached; a page read through the worker has one.
  function keepCopy(isChanged) {
    if (!("serviceWorker" in navigator) || !isSecureContext) return;
    const made = [...document.querySelectorAll("script[src], link[href]")].map((each) => each.src || each.href);
    const page = isChanged || !navigator.serviceWorker.controller ? location.href : "";
    navigator.serviceWorker.ready.then((worker) => worker.active.postMessage({ page, files: made }));
  }
  let copying = 0;
  addEventListener("midlimit-changed", () => {
    clearTimeout(copying);
    copying = setTimeout(keepCopy, 3000, true);
  });

  if (isSecureContext && "serviceWorker" in navigator) {
    navigator.serviceWorker.register("/sw.js").catch(() => {});
    addEventListener("load", () => setTimeout(keepCopy, navigator.serviceWorker.controller ? 0 : 3000));
  }
})();
