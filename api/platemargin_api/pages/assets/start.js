// The demo survey is posted to this service and its answer shown. Everything is written as text, never as HTML.
const at = (id) => document.getElementById(id);
const VERDICTS = {
  act: "A limit that calls for action is broken.",
  watch: "A limit is broken that an insurer is told of.",
  not_judged: "Not passed: something was not read, not known or not judged.",
  no_limit_broken: "No limit is broken at the places that were read.",
};
const SEVERITIES = ["act", "watch", "note"];
const PATH = "/v1/calculations/hull-survey";

async function reset() {
  const told = await fetch("/demo/survey");
  at("survey").value = JSON.stringify(await told.json(), null, 2);
}

function post(accept) {
  const headers = { "Content-Type": "application/json", Accept: accept };
  if (at("key").value) headers.Authorization = `Bearer ${at("key").value}`;
  return fetch(PATH, { method: "POST", headers, body: at("survey").value });
}

function line(words, mark, severity) {
  const item = document.createElement("li");
  if (mark) {
    const told = document.createElement("b");
    told.textContent = mark;
    told.dataset.severity = severity || "";
    item.append(told, " ");
  }
  item.append(words);
  return item;
}

function show(verdict, words) {
  at("verdict").textContent = words;
  at("verdict").dataset.verdict = verdict;
  for (const id of ["summary", "findings", "advice", "map"]) at(id).replaceChildren();
  at("answer").hidden = false;
  at("answer-heading").focus();
}

function save(id, content, type) {
  URL.revokeObjectURL(at(id).href);
  at(id).href = URL.createObjectURL(new Blob([content], { type }));
}

async function judge() {
  const told = await post("application/json");
  const answer = await told.json();
  if (!told.ok) {
    show("refused", answer.detail || answer.title);
    at("findings").append(...(answer.errors || []).map((fault) => line(fault.detail, fault.pointer || "the survey", "where")));
    return;
  }
  show(answer.result.verdict, VERDICTS[answer.result.verdict]);
  at("summary").append(...answer.summary.map((words) => line(words)));
  const urgent = [...answer.findings].sort((one, other) => SEVERITIES.indexOf(one.severity) - SEVERITIES.indexOf(other.severity));
  at("findings").append(...urgent.map((found) => line(found.statement, found.severity, found.severity)));
  at("advice").append(...answer.result.advice.map((one) => line(one.statement, one.urgency.replaceAll("_", " "))));
  save("save-answer", JSON.stringify(answer, null, 2), "application/json");
  const [map, report] = await Promise.all([post("image/svg+xml"), post("text/html")]);
  if (map.ok) {
    const drawing = new DOMParser().parseFromString(await map.text(), "image/svg+xml").documentElement;
    at("map").replaceChildren(document.importNode(drawing, true));
  }
  if (report.ok) save("save-report", await report.text(), "text/html");
}

at("reset").addEventListener("click", reset);
at("survey-form").addEventListener("submit", async (event) => {
  event.preventDefault();
  const button = event.target.querySelector("button[type=submit]");
  button.disabled = true;
  try {
    await judge();
  } catch (error) {
    show("refused", `The service did not answer: ${error.message}`);
  } finally {
    button.disabled = false;
  }
});
reset();
