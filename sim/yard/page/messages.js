// Made from the yard's protocol by .build/page_types.py: every message as a type. Change it there.

/**
 * @typedef {object} PoseTo
 * @property {string} piece
 * @property {[number, number, number] | null} [position_mm]
 * @property {[number, number, number] | null} [at_mm]
 * @property {[number, number, number, number] | null} [quaternion]
 * @property {[number, number, number] | null} [turn_deg]
 */

/**
 * @typedef {object} Drag
 * @property {(PoseTo)[]} poses
 */

/**
 * @typedef {object} Place
 * @property {(PoseTo)[]} poses
 */

/**
 * @typedef {object} Move
 * @property {(string)[]} pieces
 * @property {[number, number, number]} by_mm
 */

/**
 * @typedef {object} Turn
 * @property {(string)[]} pieces
 * @property {"x" | "y" | "z"} axis
 * @property {number} by_deg
 * @property {boolean} [together]
 */

/**
 * @typedef {object} SetDown
 * @property {(string)[]} pieces
 */

/**
 * @typedef {object} Level
 * @property {(string)[]} pieces
 */

/**
 * @typedef {object} Snap
 * @property {string} piece
 * @property {"left pane" | "right pane" | "front pane" | "back pane" | "base" | "top"} to
 * @property {string | null} [other]
 */

/**
 * @typedef {object} Duplicate
 * @property {(string)[]} pieces
 */

/**
 * @typedef {object} Delete
 * @property {(string)[]} pieces
 */

/**
 * @typedef {object} Hide
 * @property {(string)[]} pieces
 * @property {boolean} [hidden]
 */

/**
 * @typedef {object} Lock
 * @property {(string)[]} pieces
 * @property {boolean} [locked]
 */

/**
 * @typedef {object} Fix
 * @property {(string)[]} pieces
 * @property {boolean} [fixed]
 */

/**
 * @typedef {object} Group
 * @property {(string)[]} pieces
 * @property {string} [name]
 */

/**
 * @typedef {object} Ungroup
 * @property {string} module
 */

/**
 * @typedef {object} Take
 * @property {string} item
 * @property {[number, number, number] | null} [at_mm]
 */

/**
 * @typedef {object} Discard
 * @property {string} item
 */

/**
 * @typedef {object} AddStandIn
 * @property {string} name
 * @property {[number, number, number]} size_mm
 * @property {number} mass_kg
 * @property {string | null} [rock]
 * @property {string | null} [wood]
 * @property {"slab" | "block" | "cobble" | "shard"} [habit]
 * @property {number} [seed]
 * @property {boolean} [place]
 */

/**
 * @typedef {object} Join
 * @property {[string, string]} between
 * @property {"glue" | "tie" | "screw"} [kind]
 * @property {string | null} [glue]
 * @property {number | null} [capacity_n]
 */

/**
 * @typedef {object} Unjoin
 * @property {[string, string]} between
 */

/**
 * @typedef {object} SetCamera
 * @property {[number, number, number] | null} [position_mm]
 * @property {[number, number, number] | null} [look_at_mm]
 * @property {number | null} [focal_mm]
 * @property {[number, number] | null} [sensor_mm]
 * @property {number | null} [aperture]
 * @property {"sensor" | "3:2" | "4:3" | "16:9" | "1:1" | null} [crop]
 * @property {boolean} [fill]
 */

/**
 * @typedef {object} SetWater
 * @property {number | null} [level_mm]
 */

/**
 * @typedef {object} Undo
 */

/**
 * @typedef {object} Redo
 */

/**
 * @typedef {object} Save
 */

/**
 * @typedef {object} SaveAs
 * @property {string} name
 * @property {boolean} [replace]
 */

/**
 * @typedef {object} Keep
 * @property {string} name
 */

/**
 * @typedef {object} Compare
 * @property {string} with
 */

/**
 * @typedef {object} Check
 */

/**
 * @typedef {object} AskOrder
 * @property {(string)[] | null} [given]
 * @property {number} [seconds]
 */

/**
 * @typedef {object} Shoot
 * @property {boolean} [flooded]
 * @property {number | null} [focal_mm]
 * @property {number} [width_px]
 * @property {boolean} [fine]
 */

/**
 * @typedef {object} Stop
 * @property {"check" | "order"} job
 */

/**
 * @typedef {object} PieceState
 * @property {string} id
 * @property {string} mesh
 * @property {[number, number, number]} position_mm
 * @property {[number, number, number, number]} quaternion
 * @property {[number, number, number]} at_mm
 * @property {[number, number, number]} turn_deg
 * @property {[number, number, number]} size_mm
 * @property {number} mass_kg
 * @property {string} material
 * @property {boolean} wood
 * @property {boolean} fixed
 * @property {boolean} hidden
 * @property {boolean} locked
 * @property {string | null} module
 * @property {string} colour
 */

/**
 * @typedef {object} FaultState
 * @property {string} piece
 * @property {string} other
 * @property {"overlaps" | "hovers" | "outside"} fault
 * @property {number} by_mm
 * @property {string} words
 */

/**
 * @typedef {object} ShelfItem
 * @property {string} item
 * @property {string} mesh
 * @property {[number, number, number]} size_mm
 * @property {number | null} mass_kg
 * @property {string} material
 * @property {"scan" | "generated" | "stand-in"} source
 * @property {(string)[]} used_by
 */

/**
 * @typedef {object} JointState
 * @property {[string, string]} between
 * @property {string} kind
 * @property {string | null} glue
 */

/**
 * @typedef {object} ModuleState
 * @property {string} id
 * @property {(string)[]} pieces
 */

/**
 * @typedef {object} TankState
 * @property {[number, number, number]} inner_mm
 * @property {number} base_mm
 * @property {number} side_mm
 * @property {number} floor_mm
 * @property {number} water_mm
 * @property {[number, number]} ground_mm
 * @property {(string)[]} film
 * @property {[string, string]} background
 */

/**
 * @typedef {object} CameraState
 * @property {[number, number, number]} position_mm
 * @property {[number, number, number]} look_at_mm
 * @property {[number, number, number]} up
 * @property {number} focal_mm
 * @property {[number, number]} sensor_mm
 * @property {number} aperture
 * @property {string} crop
 * @property {[number, number]} angles_deg
 * @property {boolean} given
 */

/**
 * @typedef {object} Swatch
 * @property {string} colour
 * @property {number | null} upto
 * @property {string} words
 * @property {string} mark
 */

/**
 * @typedef {object} Legends
 * @property {(Swatch)[]} margin
 * @property {(Swatch)[]} pressure
 * @property {(Swatch)[]} joint
 */

/**
 * @typedef {object} Totals
 * @property {number} pieces
 * @property {number} mass_kg
 * @property {[number, number, number] | null} centre_mm
 * @property {number} displaced_ml
 * @property {number} tank_full_kg
 * @property {number} floor_kpa
 * @property {([string, number])[]} glue_g
 * @property {number | null} cost
 * @property {string} currency
 */

/**
 * @typedef {object} State
 * @property {number} version
 * @property {string} title
 * @property {string} file
 * @property {boolean} saved
 * @property {string | null} undo
 * @property {string | null} redo
 * @property {TankState} tank
 * @property {CameraState} camera
 * @property {(PieceState)[]} pieces
 * @property {(JointState)[]} joints
 * @property {(ModuleState)[]} modules
 * @property {(ShelfItem)[]} shelf
 * @property {(FaultState)[]} faults
 * @property {(string)[]} kept
 * @property {Legends} legends
 * @property {(string)[]} rocks
 * @property {(string)[]} woods
 * @property {(string)[]} glues
 * @property {number} upload_mb
 * @property {(string)[]} upload_kinds
 * @property {boolean} concept
 * @property {number} opacity
 */

/**
 * @typedef {object} Dragged
 * @property {(PieceState)[]} poses
 * @property {(FaultState)[]} faults
 */

/**
 * @typedef {object} Done
 * @property {number} id
 * @property {number} version
 * @property {string} note
 * @property {(string)[]} pieces
 */

/**
 * @typedef {object} Refused
 * @property {number | null} id
 * @property {string} reason
 */

/**
 * @typedef {object} Notice
 * @property {string} words
 * @property {"note" | "warning"} [level]
 */

/**
 * @typedef {object} StateVerdict
 * @property {"dry" | "glued"} laid
 * @property {"air" | "partial" | "flooded" | "drained"} water
 * @property {number | null} level_mm
 * @property {boolean} as_built
 * @property {"stands" | "stands (quick)" | "falls" | "doubtful" | "undetermined"} verdict
 * @property {string} reason
 * @property {number | null} tilt_deg
 * @property {string | null} towards
 * @property {string | null} base
 */

/**
 * @typedef {object} FirstMover
 * @property {string} piece
 * @property {(string)[]} others
 * @property {[number, number, number]} direction
 * @property {boolean} turns
 * @property {[number, number, number] | null} hinge_mm
 * @property {string} words
 * @property {boolean} falls
 */

/**
 * @typedef {object} PieceAnswer
 * @property {string} piece
 * @property {number | null} margin
 * @property {number | null} push_n
 * @property {string | null} towards
 * @property {number | null} swatch
 * @property {boolean} moves
 */

/**
 * @typedef {object} FootingState
 * @property {string} piece
 * @property {([number, number])[]} outline_mm
 * @property {number} force_n
 * @property {number | null} pressure_kpa
 * @property {number} swatch
 */

/**
 * @typedef {object} BaseState
 * @property {string} verdict
 * @property {string} reason
 * @property {number | null} utilisation
 * @property {number | null} max_tension_mpa
 * @property {number | null} limit_mpa
 * @property {number} deflection_mm
 * @property {[number, number]} at_mm
 * @property {"air" | "partial" | "flooded" | "drained"} water
 * @property {(FootingState)[]} footings
 */

/**
 * @typedef {object} JointAnswer
 * @property {[string, string]} between
 * @property {number | null} utilisation
 * @property {number | null} swatch
 * @property {boolean} broken
 * @property {string} reason
 * @property {[number, number, number] | null} at_mm
 */

/**
 * @typedef {object} VerdictTold
 * @property {number} version
 * @property {"verdict" | "loads" | "margins"} step
 * @property {boolean} complete
 * @property {number} took_s
 * @property {"stands" | "stands (quick)" | "falls" | "doubtful" | "undetermined"} verdict
 * @property {string} reason
 * @property {(StateVerdict)[]} states
 * @property {number | null} governing
 * @property {FirstMover | null} first
 * @property {(PieceAnswer)[]} pieces
 * @property {BaseState | null} base
 * @property {(JointAnswer)[]} joints
 * @property {Totals} totals
 */

/**
 * @typedef {object} Progress
 * @property {"check" | "order"} job
 * @property {number} version
 * @property {string} what
 * @property {number} done
 * @property {number} of
 */

/**
 * @typedef {object} Stopped
 * @property {"check" | "order" | "shot" | "verdict"} job
 * @property {number} version
 * @property {string} reason
 */

/**
 * @typedef {object} Checked
 * @property {number} version
 * @property {"stands" | "stands (quick)" | "falls" | "doubtful" | "undetermined"} verdict
 * @property {string} reason
 * @property {boolean} passes
 * @property {string} text
 * @property {Record<string, any>} report
 */

/**
 * @typedef {object} OrderStep
 * @property {number} number
 * @property {string} unit
 * @property {(string)[]} pieces
 * @property {(string)[]} rests_on
 * @property {string} way_in
 * @property {number} wait_h
 * @property {([string, string])[]} wait_for
 * @property {([string, string])[]} joints
 * @property {number | null} margin_deg
 * @property {number | null} swatch
 * @property {(string)[]} holds
 * @property {(string)[]} holding
 */

/**
 * @typedef {object} Ordered
 * @property {number} version
 * @property {boolean} given
 * @property {string} verdict
 * @property {string} reason
 * @property {(OrderStep)[]} steps
 * @property {number | null} fails_at
 * @property {number | null} worst_margin_deg
 * @property {number | null} worst_step
 * @property {number} holds
 * @property {number} wait_h
 * @property {boolean} proved
 * @property {(string)[]} units
 */

/**
 * @typedef {object} Guide
 * @property {string} name
 * @property {([[number, number], [number, number]])[]} lines
 */

/**
 * @typedef {object} ShotTold
 * @property {number} version
 * @property {string} key
 * @property {number} width_px
 * @property {number} height_px
 * @property {boolean} flooded
 * @property {number} focal_mm
 * @property {number} took_s
 * @property {(Guide)[]} guides
 * @property {(string)[]} warnings
 */

/**
 * @typedef {object} MovedPiece
 * @property {string} piece
 * @property {"moved" | "added" | "removed" | "changed"} what
 * @property {number} by_mm
 * @property {number} by_deg
 */

/**
 * @typedef {object} Compared
 * @property {number} version
 * @property {string} then
 * @property {(MovedPiece)[]} pieces
 * @property {([string, string])[]} joints_added
 * @property {([string, string])[]} joints_removed
 * @property {["stands" | "stands (quick)" | "falls" | "doubtful" | "undetermined", "stands" | "stands (quick)" | "falls" | "doubtful" | "undetermined"]} verdict
 * @property {[string, string]} reason
 * @property {[number | null, number | null]} tilt_deg
 * @property {[number, number]} mass_kg
 * @property {[number, number]} glue_g
 * @property {[number | null, number | null]} cost
 */

/**
 * @typedef {object} Imported
 * @property {string} item
 * @property {string | null} piece
 * @property {string} file
 * @property {string} mesh
 * @property {[number, number, number]} size_mm
 * @property {number} longest_mm
 * @property {number} volume_ml
 * @property {number | null} mass_kg
 * @property {number} triangles
 * @property {string} units
 * @property {string} units_because
 * @property {(string)[]} repaired
 * @property {number} volume_moved_percent
 * @property {(string)[]} warnings
 */

/**
 * @typedef {object} Problem
 * @property {string} problem
 * @property {Record<string, number>} candidates
 */

/**
 * @typedef {object} Commands
 * @property {Drag} drag
 * @property {Place} place
 * @property {Move} move
 * @property {Turn} turn
 * @property {SetDown} set_down
 * @property {Level} level
 * @property {Snap} snap
 * @property {Duplicate} duplicate
 * @property {Delete} delete
 * @property {Hide} hide
 * @property {Lock} lock
 * @property {Fix} fix
 * @property {Group} group
 * @property {Ungroup} ungroup
 * @property {Take} take
 * @property {Discard} discard
 * @property {AddStandIn} stand_in
 * @property {Join} join
 * @property {Unjoin} unjoin
 * @property {SetCamera} camera
 * @property {SetWater} water
 * @property {Undo} undo
 * @property {Redo} redo
 * @property {Save} save
 * @property {SaveAs} save_as
 * @property {Keep} keep
 * @property {Compare} compare
 * @property {Check} check
 * @property {AskOrder} order
 * @property {Shoot} shoot
 * @property {Stop} stop
 */

/**
 * @typedef {object} Tellings
 * @property {State} state
 * @property {Dragged} dragged
 * @property {Done} done
 * @property {Refused} refused
 * @property {Notice} notice
 * @property {VerdictTold} verdict
 * @property {Progress} progress
 * @property {Stopped} stopped
 * @property {Checked} checked
 * @property {Ordered} ordered
 * @property {ShotTold} shot
 * @property {Compared} compared
 */

export {};
