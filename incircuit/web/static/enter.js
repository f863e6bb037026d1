// The code of a shared page: sent once, then a cookie lets this device in.
const form = document.getElementById("enter");
form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const code = document.getElementById("code");
  const refused = document.getElementById("refused");
  try {
    const answer = await fetch("/api/enter", {
      method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify({ code: code.value }),
    });
    if (answer.ok) { location.href = "/"; return; }
    refused.textContent = (await answer.json()).error;
  } catch {
    refused.textContent = "the page's server does not answer";
  }
  code.select();
});
