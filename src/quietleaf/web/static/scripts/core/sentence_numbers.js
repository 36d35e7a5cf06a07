// What readers have in common: the numbers of the sentence model, as the station has them
// (listening/sentence_numbers.py tells what each is; a test compares the two).

export const NUMBERS = {
  lengthMean: -0.2261,
  lengthSpread: 0.5306,
  shorterMean: 0.6631,
  shorterSpread: 0.1609,
  sentenceRate: -2.3588,
  innerRate: -1.3337,
  rateSpread: 0.5,
  betweenSpread: 0.1145,
  innerSpread: 0.5445,
  longer: 0.7,
  stray: 0.01,
  slope: 5.8109,
  middle: 0.553,
  rates: 1.0831,
  offset: 0.2249,
  kept: 0.985,
};
