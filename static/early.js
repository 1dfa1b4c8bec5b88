// Runs before the first paint: tells the styles that scripts work, and the theme that was chosen.
document.documentElement.classList.add("js");
