"""From one ride to the engine's torque curve, and from that to times with other sprockets."""
