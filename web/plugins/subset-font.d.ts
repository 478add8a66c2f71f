declare module "subset-font" {
  export default function subset(
    font: Uint8Array,
    text: string,
    options: { targetFormat: "woff2"; keepFeatures: string[]; noHinting: boolean },
  ): Promise<Uint8Array>;
}
