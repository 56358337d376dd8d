#include "influence/noise.hpp"

#include <Eigen/Cholesky>
#include <algorithm>

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;

using Entries = std::vector<Eigen::Triplet<double>>;

void add_entries(const MatrixXd& part, Index row, Index column, Entries& entries) {
  for (Index c = 0; c < part.cols(); ++c)
    for (Index r = 0; r < part.rows(); ++r) entries.emplace_back(row + r, column + c, part(r, c));
}

bool of_one_block(const CommonError& error) {
  return error.blocks.front() == error.blocks.back();
}

/// What several blocks share, those with fewest first: eliminated in this order they fill the factors least.
std::vector<const CommonError*> shared_of(const std::vector<CommonError>& errors) {
  std::vector<const CommonError*> shared;
  for (const CommonError& error : errors)
    if (!of_one_block(error)) shared.push_back(&error);
  std::stable_sort(shared.begin(), shared.end(),
                   [](const auto* one, const auto* other) { return one->blocks.size() < other->blocks.size(); });
  return shared;
}

}  // namespace

MatrixXd carried_blocks(const MatrixXd& by, const std::vector<MatrixXd>& blocks, std::size_t from, std::size_t to,
                        Index first) {
  MatrixXd sum = MatrixXd::Zero(by.rows(), by.rows());
  for (std::size_t i = from; i < to; first += blocks[i++].rows()) {
    const auto part = by.middleCols(first, blocks[i].rows());
    sum += part * blocks[i] * part.transpose();
  }
  return sum;
}

Noise::Noise(std::vector<MatrixXd> blocks, const std::vector<CommonError>& errors) : blocks_(std::move(blocks)) {
  for (const CommonError& error : errors) {
    if (!of_one_block(error)) continue;
    const MatrixXd shown = static_cast<double>(error.blocks.size()) * error.shown;
    blocks_[error.blocks.front()] += shown * shown.transpose();
  }
  Index next = 0;
  for (const MatrixXd& block : blocks_) {
    first_.push_back(next);
    next += block.rows();
    roots_.emplace_back(Eigen::LLT<MatrixXd>(block).matrixL());
  }
  factorise(errors);
}

void Noise::factorise(const std::vector<CommonError>& errors) {
  const Index rows = first_.back() + blocks_.back().rows();
  Entries of_shared;
  Entries of_whitened;
  Index column = 0;
  for (const CommonError* error : shared_of(errors)) {
    for (const std::size_t block : error->blocks) {
      const MatrixXd whitened = roots_[block].triangularView<Eigen::Lower>().solve(error->shown);
      add_entries(error->shown, first_[block], column, of_shared);
      add_entries(whitened, first_[block], column, of_whitened);
    }
    column += error->shown.cols();
  }
  shared_.resize(rows, column);
  shared_.setFromTriplets(of_shared.begin(), of_shared.end());
  if (column == 0) return;
  Entries all;
  for (Index c = 0; c < column; ++c) all.emplace_back(c, c, 1.0);
  for (const auto& each : of_whitened) all.emplace_back(column + each.row(), each.col(), each.value());
  Sparse stacked(column + rows, column);
  stacked.setFromTriplets(all.begin(), all.end());
  factors_ = std::make_unique<Factors>();
  factors_->setPivotThreshold(0.0);  // for the identity in it no column depends on others
  factors_->compute(stacked);
}

MatrixXd Noise::whitened(const MatrixXd& rows) const {
  MatrixXd left = rows;
  for (std::size_t i = 0; i < blocks_.size(); ++i)
    roots_[i].triangularView<Eigen::Lower>().solveInPlace(rows_of(left, i));
  if (!factors_) return left;
  MatrixXd all = MatrixXd::Zero(common() + rows.rows(), rows.cols());
  all.bottomRows(rows.rows()) = left;
  all = factors_->matrixQ().adjoint() * MatrixXd(all);
  return all.bottomRows(rows.rows());
}

MatrixXd Noise::whitened_back(const MatrixXd& rows) const {
  MatrixXd back = rows;
  if (factors_) {
    MatrixXd all = MatrixXd::Zero(common() + rows.rows(), rows.cols());
    all.bottomRows(rows.rows()) = rows;
    all = factors_->matrixQ() * MatrixXd(all);
    back = all.bottomRows(rows.rows());
  }
  for (std::size_t i = 0; i < blocks_.size(); ++i)
    roots_[i].triangularView<Eigen::Lower>().transpose().solveInPlace(rows_of(back, i));
  return back;
}

MatrixXd Noise::carried(const MatrixXd& by) const {
  const MatrixXd of_shared = by * shared_;
  return carried_blocks(by, blocks_, 0, blocks_.size(), 0) + of_shared * of_shared.transpose();
}

std::vector<MatrixXd> Noise::blocks() const {
  std::vector<MatrixXd> all = blocks_;
  const Sparse by_row = shared_.transpose();
  for (std::size_t i = 0; i < all.size(); ++i) {
    const Sparse shared = by_row.middleCols(first_[i], all[i].rows());
    all[i] += MatrixXd(shared.transpose() * shared);
  }
  return all;
}

std::vector<MatrixXd> Noise::blocks_of_inverse() const {
  MatrixXd basis;  // the rows of Q₁ that are V's
  if (factors_) {
    const MatrixXd all = factors_->matrixQ() * MatrixXd::Identity(common() + shared_.rows(), common());
    basis = all.bottomRows(shared_.rows());
  }
  std::vector<MatrixXd> all;
  for (std::size_t i = 0; i < blocks_.size(); ++i) {
    const Index size = blocks_[i].rows();
    MatrixXd left = MatrixXd::Identity(size, size);
    if (factors_) left -= rows_of(basis, i) * rows_of(basis, i).transpose();
    const auto root = roots_[i].triangularView<Eigen::Lower>().transpose();
    const MatrixXd half = root.solve(left);
    all.push_back(root.solve(half.transpose()));
  }
  return all;
}

}  // namespace counterspot
