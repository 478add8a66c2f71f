//! Files to send: tables of what the store has, and reports. Reads the store through its reader only.
