// The islands of every page. Each finds its own elements and does nothing
// where there are none; each page works without them.

import { startAlone } from "./alone";
import { startClocks } from "./clock";
import { startCorners } from "./corners";
import { startFresh } from "./fresh";
import { startForms } from "./forms";
import { startKeypads } from "./keypad";
import { startLive } from "./live";
import { startOutbox } from "./outbox";
import { startPreview } from "./preview";
import { startSheet } from "./sheet";
import { startSliders } from "./slider";
import { startSpine } from "./spine";
import { startUploads } from "./upload";

void startAlone();
startSpine();
startUploads();
startForms();
startKeypads();
startClocks();
startSliders();
startCorners();
startPreview();
startSheet();
startLive();
startOutbox();
startFresh();
