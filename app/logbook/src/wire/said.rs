//! Stored forms of what is said about what stands in the log.

use crate::fact::{About, Erasure, Ground, Hold, Reply, Resolution, Settlement};

twin!(AboutV1 = About { entry: String, hash: String, person: String });
twin!(ReplyV1 = Reply { about: AboutV1, disputed: Option<String> });
twin!(ResolutionV1 = Resolution { dispute: String, person: String, words: String });
twin!(SettlementV1 = Settlement { keep: String, other: String, same: bool, why: String });
twin!(ErasureV1 = Erasure { of: String, hashes: Vec<String>, what: String, why: String });
twin_words!(GroundV1 = Ground { Claim "claim", Law "law" });
twin!(HoldV1 = Hold { on: String, ground: GroundV1, why: String });
