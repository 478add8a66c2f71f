/** A gate between the page and the daemon under test: open, shut as if the daemon had gone, or silent as if its computer had. */
import { createServer, request as ask } from "node:http";
import { base } from "./harness.mjs";

export async function gate() {
  const daemon = new URL(base);
  let silent = false;
  const server = createServer((request, response) => {
    if (silent) return;
    const { method, url: path, headers } = request;
    const asked = ask({ hostname: daemon.hostname, port: daemon.port, method, path, headers }, (answer) => {
      response.writeHead(answer.statusCode, answer.headers);
      answer.pipe(response);
    });
    asked.on("error", () => response.destroy());
    response.on("close", () => asked.destroy());
    request.pipe(asked);
  });
  const listen = (port) => new Promise((resume) => server.listen(port, "127.0.0.1", resume));
  await listen(0);
  const { port } = server.address();
  return {
    at: `http://127.0.0.1:${port}`,
    /** Nobody listens, and what was open is cut. */
    shut: () => {
      const closed = new Promise((resume) => server.close(resume));
      server.closeAllConnections();
      return closed;
    },
    /** Whoever asks waits for ever, and open streams fall silent. */
    silence: () => {
      silent = true;
      server.closeAllConnections();
    },
    open: () => {
      silent = false;
      return server.listening ? undefined : listen(port);
    },
  };
}
