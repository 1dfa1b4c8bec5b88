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

  if (isSecureContext && "serviceWorker" in navigator) {
    navigator.serviceWorker.register("/sw.js").catch(() => {});
  }
})();
