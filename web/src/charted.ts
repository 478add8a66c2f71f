/** The pages beside Now, fetched together: most share the charts, and small pieces pack badly. */
export { mountHealth as health } from "./health/page";
export { mountHistory as history } from "./history/page";
export { mountPassages as passages } from "./passages/page";
export { mountSetup as setup } from "./setup/page";
