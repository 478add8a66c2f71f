#!/usr/bin/env node
/**
 * Serves the page of dist/ and an invented boat behind the daemon's API, for development and the browser tests.
 * Usage: node mock/server.mjs [--port 7245] [--scenario drawing|charging|resting|silent|closed|waiting|below|untrusted|unknown]
 */
import { createServer } from "node:http";
import { readFile } from "node:fs/promises";
import { extname, join, normalize } from "node:path";
import { fileURLToPath } from "node:url";
import { parseArgs } from "node:util";
import { Boat } from "./answers.mjs";
import { banks } from "./boat.mjs";

const { values: args } = parseArgs({
  options: { port: { type: "string", default: "7245" }, scenario: { type: "string", default: "drawing" } },
});
const root = fileURLToPath(new URL("../dist/", import.meta.url));
const started = Date.now() / 1000;
const boat = new Boat(started, args.scenario);
const present = () => Date.now() / 1000;

const TYPES = { ".html": "text/html; charset=utf-8", ".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml", ".woff2": "font/woff2" };
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
  const [, , , what, name, about] = url.pathname.split("/");
  const query = url.searchParams;
  if (what === "live") return live(request, response);
  if (what === "health") return json(response, boat.health(present() - started));
  if (what === "events") return json(response, boat.events());
  if (what === "banks" && name === undefined) return json(response, boat.banks());
  if (what !== "banks" || !(name in banks)) return problem(response, 404, "Not found", `there is no ${url.pathname}`);
  const [from, to] = [Number(query.get("from_ms")), Number(query.get("to_ms"))];
  if (about === "now") return json(response, boat.now(name, present()));
  if (!(to > from)) return problem(response, 400, "Bad span", "from_ms must lie before to_ms");
  if (about === "sums") return json(response, boat.sums(name, from, to));
  if (about === "history") {
    return json(response, boat.history(name, from, to, Number(query.get("points") ?? 1500), query.get("channels")?.split(",")));
  }
  return problem(response, 404, "Not found", `there is no ${url.pathname}`);
}

async function file(url, response) {
  const path = url.pathname === "/" || url.pathname === "/history" ? "/index.html" : url.pathname;
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
}).listen(Number(args.port), "127.0.0.1", () => console.log(`mock boat (${args.scenario}) at http://127.0.0.1:${args.port}`));
