// Before and after practice: what this browser still keeps of a practice goes too.

import { forgetPractice } from "../parts/forget-practice.js";

void forgetPractice();
