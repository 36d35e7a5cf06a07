// W3C "MediaStreamTrack Insertable Media Processing using Streams", which TypeScript's own libraries lack.

interface MediaStreamTrackProcessorInit {
  track: MediaStreamTrack;
  maxBufferSize?: number;
}

declare class MediaStreamTrackProcessor {
  constructor(init: MediaStreamTrackProcessorInit);
  readonly readable: ReadableStream<AudioData>;
}
