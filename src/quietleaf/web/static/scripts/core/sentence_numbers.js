// What readers have in common: the numbers of the sentence model, as the station has them
// (listening/sentence_numbers.py tells what each is; a test compares the two).

export const NUMBERS = {
  lengthMean: -0.4848,
  lengthSpread: 0.5354,
  shorterMean: 0.914,
  shorterSpread: 0.3349,
  sentenceRate: -2.1162,
  innerRate: -1.1213,
  rateSpread: 0.5,
  betweenSpread: 0.1897,
  innerSpread: 0.6085,
  longer: 0.7,
  stray: 0.01,
  slope: 6.466,
  middle: 0.4125,
  rates: 1.0084,
  offset: 0.2636,
  kept: 0.985,
};
