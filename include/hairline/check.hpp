/// Checking a job as a service, for every way in (terminal, page, queue): find the jobs, choose the record of each,
/// open and analyse. Nothing is printed; progress and cancel go through the Progress that is passed in.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "hairline/analyse.hpp"
#include "hairline/record_edit.hpp"

namespace hairline {

/// Which record, as a person asks for it: a file, or the label of one in the folder `records` (empty: the current one),
/// or, when `record` is empty, the one there that matches the job.
struct RecordChoice {
  std::string record = {}, records = {};
};

/// The choice as far as it is settled without a job: one record for all when a file was named, else the records of a
/// folder, read once, among which each job's own is looked up.
struct Records {
  std::optional<ResinRecord> named = {};
  RecordChoice choice = {};
  std::vector<FoundRecord> found = {};
};
/// Fails as read_record does where a file was named, also when that record has no fit; as find_records does, and with
/// not_found where there is no record at all. The advice then names a folder among `paths` (jobs, folders of jobs), or
/// one that they lie in, if it holds some.
Result<Records> read_records(const RecordChoice& choice, const std::vector<std::string>& paths = {});
/// The record for one job, with a fit. Fails as pick_record does.
Result<ResinRecord> record_for(const Records& records, const JobSettings& job);

struct CheckRequest {
  std::string job;  ///< path of a layer archive, or of any ZIP or folder of masks
  OpenOptions open = {};
  const Records* records = nullptr;  ///< null: measured only
  AnalyseSettings settings;
};
/// Opens the job and analyses it. Fails as Archive::open, record_for and analyse do; the error names the file.
/// `pictures` as for analyse.
Result<Report> check_job(const CheckRequest& request, Progress& progress, Pictures* pictures = nullptr);

/// The jobs that paths stand for: archives, folders of archives, lists of paths. In the order given; within a folder in
/// natural order of names; a list (.txt) is relative to its own folder, its empty lines and lines that begin with # are
/// skipped. A folder with a manifest.json or
/// with PNGs in it is itself a job; others are searched for .zip, .3mf and such folders. Fails with not_found,
/// unreadable, and invalid when nothing was found. Precondition: `paths` is not empty.
Result<std::vector<std::string>> find_jobs(const std::vector<std::string>& paths);
/// The jobs directly in a folder that is none itself: archives (.zip, .3mf) and folders of masks, in natural order of
/// names. Fails with unreadable.
Result<std::vector<std::string>> jobs_in(const std::string& folder);

}  // namespace hairline
