// Pages on the way to the stand: what an earlier reader's page still had to send is sent meanwhile.

import { sendWhatIsLeft } from "../parts/send-what-is-left.js";

// Of no reading in particular, so that there is nothing to show; where a browser has no private
// files there is nothing left in it either.
sendWhatIsLeft("", () => {}).catch(() => {});
