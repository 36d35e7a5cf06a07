// Web Audio API, AudioWorkletGlobalScope: as much of it as is used here.

declare const currentFrame: number;
declare const sampleRate: number;
interface MessagePort {
  postMessage(message: unknown, transfer?: readonly ArrayBuffer[]): void;
  onmessage: ((event: { data: unknown }) => void) | null;
}
declare class AudioWorkletProcessor {
  readonly port: MessagePort;
}
declare function registerProcessor(
  name: string,
  processor: new (options?: { processorOptions?: unknown }) => {
    process(inputs: Float32Array[][]): boolean;
  },
): void;
