"""What a sampled sync or video waveform tells: pulses, lines, fields, verdict, levels, and a pad."""
