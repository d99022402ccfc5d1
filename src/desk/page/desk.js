const study = await (await fetch("/api/study")).json();
document.getElementById("desk").textContent = study.name;
