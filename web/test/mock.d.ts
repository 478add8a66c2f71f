/** What the tests take of the mock, which is plain JavaScript. */
declare module "*/mock/boat.mjs" {
  export const banks: Record<"drive" | "house", unknown>;
}
declare module "*/mock/record.mjs" {
  /** A health record of the bank as the API tells it, `start` in UTC seconds. */
  export function record(name: string, bank: unknown, start: number): unknown;
}
