// On a phone printing hides in the browser's menu, and what is shown once has to come onto paper now.

const button = document.getElementById("print");
button.addEventListener("click", () => window.print());
button.hidden = false;
