// Every page: theme switch, printing, focus on what went wrong, installable app where allowed.
(() => {
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
