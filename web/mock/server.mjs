#!/usr/bin/env node
/**
 * Serves the page of dist/ and an invented boat behind the daemon's API, for development and the browser tests.
 * Usage: node mock/server.mjs [--port 7245] [--scenario drawing|charging|resting|silent|closed|waiting|below|untrusted|unknown|spent|counter] [--pin 4711]
 */
import { createServer } from "node:http";
import { readFile } from "node:fs/promises";
import { extname, join, normalize } from "node:path";
import { fileURLToPath } from "node:url";
import { parseArgs } from "node:util";
import { Boat } from "./answers.mjs";
import { banks } from "./boat.mjs";
import { Passages } from "./passages.mjs";
import { Permit } from "./permit.mjs";
import { record } from "./record.mjs";
import { carried, description, devices, outlook } from "./setup.mjs";

const { values: args } = parseArgs({
  options: { port: { type: "string", default: "7245" }, scenario: { type: "string", default: "drawing" }, pin: { type: "string" } },
});
const root = fileURLToPath(new URL("../dist/", import.meta.url));
const started = Date.now() / 1000;
const boat = new Boat(started, args.scenario);
const passages = new Passages(boat);
const permit = new Permit(args.pin);
const present = () => Date.now() / 1000;

const TYPES = { ".html": "text/html; charset=utf-8", ".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml", ".png": "image/png", ".woff2": "font/woff2", ".webmanifest": "application/manifest+json" };
const VIEWS = ["/", "/history", "/passages", "/health", "/setup"];
const POLICY = "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:";

function json(response, body) {
  response.writeHead(200, { "content-type": "application/json", "cache-control": "no-store" });
  response.end(JSON.stringify(body));
}

function problem(response, status, title, detail) {
  response.writeHead(status, { "content-type": "application/problem+json" });
  response.end(JSON.stringify({ type: "about:blank", title, status, detail }));
}

function live(request, response) {
  response.writeHead(200, { "content-type": "text/event-stream", "cache-control": "no-store" });
  const tell = () => {
    for (const name of Object.keys(banks)) {
      const now = boat.now(name, present());
      if (now.device.state === "live") response.write(`event: now\ndata: ${JSON.stringify(now)}\n\n`);
    }
    response.write(": on\n\n");
  };
  tell();
  const timer = setInterval(tell, 1000);
  request.on("close", () => clearInterval(timer));
}

function answer(url, request, response) {
  const [, , , what, name, about, ...rest] = url.pathname.split("/");
  const query = url.searchParams;
  if (what === "permit") return permit.answer(request, response);
  if (!["GET", "HEAD"].includes(request.method) && permit.refuse(request, response)) return;
  if (what === "live") return live(request, response);
  if (what === "health") return json(response, boat.health(present() - started));
  if (what === "devices") return json(response, devices(boat, present()));
  if (what === "clock" && request.method === "POST") return void clock(request, response);
  if (what === "events") return json(response, boat.events());
  if (what === "banks" && name === undefined) return json(response, boat.banks());
  if (what !== "banks" || !(name in banks)) return problem(response, 404, "Not found", `there is no ${url.pathname}`);
  const [from, to] = [Number(query.get("from_ms")), Number(query.get("to_ms"))];
  if (about === "now") return json(response, boat.now(name, present()));
  if (about === "endurance") {
    const load = Number(query.get("load_a"));
    if (!(load > 0 && load <= 2400)) return problem(response, 400, "Bad request", `load_a: expected a load in A, greater than 0 and at most 2400, got "${query.get("load_a")}"`);
    return json(response, boat.endurance(name, present(), load));
  }
  if (about === "outlook") return json(response, outlook(name, boat.now(name, present()), Number(query.get("current_a"))));
  if (about === "description") return json(response, description(name));
  if (about === "branches") return json(response, { branches: banks[name].branches.filter(({ channel }) => channel).map(carried) });
  if (about === "record") {
    return rest[0] === "report" ? report(response, `Health of ${banks[name].title}`) : json(response, record(name, banks[name], started));
  }
  if (about === "ledger") return json(response, passages.span(name, query.get("from"), query.get("to")));
  if (about === "export") return exported(response, name, query);
  if (about === "passages") return void passage(name, rest, query, request, response);
  if (request.method === "POST") return void order(name, about, request, response);
  if (about === "days") return json(response, boat.days(name, query.get("from"), query.get("to")));
  if (!(to > from)) return problem(response, 400, "Bad span", "from_ms must lie before to_ms");
  if (about === "sums") return json(response, boat.sums(name, from, to));
  if (about === "history") {
    return json(response, boat.history(name, from, to, Number(query.get("points") ?? 1500), query.get("channels")?.split(","), query.get("line")));
  }
  return problem(response, 404, "Not found", `there is no ${url.pathname}`);
}

/** Stands in for a report, which the daemon draws. */
function report(response, title) {
  response.writeHead(200, { "content-type": "text/html; charset=utf-8" });
  response.end(`<!doctype html><html lang="en"><title>${title}</title><h1>${title}</h1><p>The report is the daemon\u2019s own work; the mock has none.</p></html>`);
}

/** The daemon's file has every channel; here the voltage by the minute is enough. */
function exported(response, name, query) {
  const [from, to] = ["from", "to"].map((end) => Date.parse(query.get(end)));
  const { time_ms, channels } = boat.history(name, from, to, 5000, ["voltage_v"]);
  response.writeHead(200, { "content-type": "text/csv; charset=utf-8", "content-disposition": `attachment; filename="${name}-${query.get("what")}.csv"` });
  response.end(["time,voltage_v", ...time_ms.map((ms, i) => `${new Date(ms).toISOString()},${channels.voltage_v.mean[i] ?? ""}`)].join("\n"));
}

async function passage(name, [place, what], query, request, response) {
  const id = place === undefined || place === "merge" ? undefined : Number(place);
  if (what === "report") return report(response, `Passage ${id}`);
  if (request.method === "GET" && id === undefined) return json(response, passages.list(name, query));
  let body = "";
  for await (const part of request) body += part;
  const answered = request.method === "GET" ? passages.get(name, id) : passages.change(name, request.method, id, what ?? (id === undefined ? place : undefined), JSON.parse(body));
  if (answered === null) return problem(response, 404, "Not found", `there is no passage ${id}`);
  if (answered.refused) return problem(response, 409, "Not possible now", answered.refused);
  return json(response, answered);
}

/** Takes a hand order as the daemon does; the counter knows no offset to set. */
async function order(name, about, request, response) {
  let body = "";
  for await (const part of request) body += part;
  if (request.headers["content-type"] !== "application/json") return problem(response, 415, "Unsupported media type", "Content-Type: expected application/json");
  if (about === "notes") return json(response, boat.note(name, JSON.parse(body)));
  if (about === "fixes") return json(response, boat.fix(name, present(), JSON.parse(body).soc));
  if (about === "zero" && boat.scenario === "counter") return problem(response, 409, "Not possible now", "the counter knows no zero of the sensor; nothing was changed");
  if (about === "zero") return json(response, { text: "Drive bank: zero of the current sensor set by hand; it reads -0.040 A when no current flows" });
  return problem(response, 404, "Not found", `there is no order ${about}`);
}

/** Takes the time as the daemon does; what lies before the invented past needs to be insisted on. */
async function clock(request, response) {
  let body = "";
  for await (const part of request) body += part;
  const { time, even_so } = JSON.parse(body);
  if (Date.parse(time) < Date.now() - 86_400_000 && !even_so) {
    response.writeHead(409, { "content-type": "application/problem+json" });
    const detail = "the time given lies before 2026-11-24 08:00 UTC, the latest that is recorded from before this computer started; check the date, and insist only if that record is the one that is wrong";
    return response.end(JSON.stringify({ title: "Not possible now", status: 409, detail, insist: "even_so" }));
  }
  return json(response, boat.setClock(Date.parse(time)));
}

async function file(url, response) {
  const path = VIEWS.includes(url.pathname) ? "/index.html" : url.pathname;
  try {
    const body = await readFile(join(root, normalize(path)));
    response.writeHead(200, { "content-type": TYPES[extname(path)] ?? "application/octet-stream", "content-security-policy": POLICY });
    response.end(body);
  } catch {
    problem(response, 404, "Not found", `there is no ${url.pathname}`);
  }
}

createServer((request, response) => {
  const url = new URL(request.url, "http://localhost");
  if (url.pathname.startsWith("/api/")) answer(url, request, response);
  else void file(url, response);
}).listen(Number(args.port), "127.0.0.1", function listening() {
  console.log(`mock boat (${args.scenario}) at http://127.0.0.1:${this.address().port}`);
});
